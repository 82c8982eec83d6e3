// Draws every chart on the page from the JSON beside it. Loaded after plotly.min.js, only on pages
// with charts. Nothing zooms or pans: a finger on a chart must still scroll the page.
(function () {
  "use strict";

  const CONFIG = { displayModeBar: false, responsive: false, scrollZoom: false, doubleClick: false, showTips: false };
  const drawn = new WeakSet();

  // What the page hides has no width; paper shows it, two beside each other on a sheet.
  const HIDDEN_WIDTH = 340;

  function widthOf(place) {
    return place.clientWidth || HIDDEN_WIDTH;
  }

  // A plan of the back keeps its proportions: its height follows from the width it is given.
  function heightFor(place, layout) {
    const aspect = layout.meta && layout.meta.aspect;
    if (!aspect) return layout.height;
    const margin = layout.margin;
    const across = Math.max(widthOf(place) - margin.l - margin.r, 80);
    return Math.round(across * aspect + margin.t + margin.b);
  }

  function refit(place) {
    if (!drawn.has(place) || !place.clientWidth) return;
    const layout = place.layout;
    window.Plotly.relayout(place, { width: place.clientWidth, height: heightFor(place, layout) });
  }

  function draw(place) {
    if (drawn.has(place)) return;
    const source = document.getElementById(place.dataset.figure);
    if (!source) return;
    drawn.add(place);
    const figure = JSON.parse(source.textContent);
    figure.layout.width = widthOf(place);
    figure.layout.height = heightFor(place, figure.layout);
    place.replaceChildren();
    window.Plotly.newPlot(place, figure.data, figure.layout, CONFIG);
    if (figure.frames && figure.frames.length) window.Plotly.addFrames(place, figure.frames);
    offerDownloads(place);
    place.style.minHeight = "";
    widths.observe(place);
  }

  // Beside the table of numbers: the picture and the same numbers as files.
  function offerDownloads(place) {
    const block = place.closest(".chart-block");
    const details = block && block.querySelector(".chart-table");
    if (!details) return;
    const name = place.dataset.figure.replace(/-figure$/, "");
    const row = document.createElement("p");
    row.className = "row no-print";
    row.append(
      button("Picture as PNG", function () {
        window.Plotly.downloadImage(place, { format: "png", scale: 2, width: place.layout.width, height: place.layout.height, filename: name });
      }),
      button("Numbers as CSV", function () { saveTable(details.querySelector("table"), name); }),
    );
    details.append(row);
  }

  function button(words, act) {
    const made = document.createElement("button");
    made.type = "button";
    made.className = "button";
    made.textContent = words;
    made.addEventListener("click", act);
    return made;
  }

  // Text a spreadsheet would take for a formula is marked as text, as in the site's own files.
  function cell(text) {
    const risky = /^[=+@\t\r-]/.test(text) && Number.isNaN(Number(text));
    return '"' + (risky ? "'" : "") + text.replace(/"/g, '""') + '"';
  }

  function saveTable(table, name) {
    const lines = Array.from(table.rows, function (row) {
      return Array.from(row.cells, function (each) { return cell(each.textContent.trim()); }).join(",");
    });
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob(["\ufeff" + lines.join("\r\n")], { type: "text/csv" }));
    link.download = name + ".csv";
    link.click();
    URL.revokeObjectURL(link.href);
  }

  const widths = new ResizeObserver(function (entries) {
    for (const entry of entries) {
      const place = entry.target;
      if (place.layout && place.clientWidth && Math.abs(place.clientWidth - place.layout.width) > 1) refit(place);
    }
  });

  // A chart in a closed part of the page has no width yet; it is drawn when it comes into view.
  const watcher = new IntersectionObserver(
    function (entries) {
      for (const entry of entries) {
        if (entry.isIntersecting) {
          watcher.unobserve(entry.target);
          draw(entry.target);
        }
      }
    },
    { rootMargin: "600px" },
  );

  function watchAll(root) {
    for (const place of root.querySelectorAll("[data-figure]")) watcher.observe(place);
  }

  function drawAll() {
    for (const place of document.querySelectorAll("[data-figure]")) draw(place);
  }

  watchAll(document);
  document.addEventListener("htmx:afterSwap", function (event) { watchAll(event.detail.target); });

  // Paper is narrower than the screen: draw what is still hidden and fit all of it.
  // Nothing is folded on paper.
  let opened = [];

  function unfold() {
    opened = Array.from(document.querySelectorAll("details.fold:not([open])"));
    for (const part of opened) part.open = true;
  }

  function foldAgain() {
    for (const part of opened) part.open = false;
    opened = [];
  }

  function refitAll() {
    drawAll();
    for (const place of document.querySelectorAll("[data-figure]")) refit(place);
  }
  window.addEventListener("beforeprint", function () { unfold(); refitAll(); });
  window.addEventListener("afterprint", function () { foldAgain(); refitAll(); });
})();

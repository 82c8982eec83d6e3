// Draws every chart on the page from the JSON beside it. Loaded after plotly.min.js, only on pages
// with charts. Nothing zooms or pans: a finger on a chart must still scroll the page.
(function () {
  "use strict";

  const CONFIG = { displayModeBar: false, responsive: true, scrollZoom: false, doubleClick: false, showTips: false };
  const drawn = new WeakSet();

  function draw(place) {
    if (drawn.has(place)) return;
    const source = document.getElementById(place.dataset.figure);
    if (!source) return;
    drawn.add(place);
    const figure = JSON.parse(source.textContent);
    figure.layout.autosize = true;
    place.replaceChildren();
    window.Plotly.newPlot(place, figure.data, figure.layout, CONFIG);
  }

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
    for (const place of document.querySelectorAll("[data-figure]")) {
      if (place.offsetParent !== null) draw(place);
    }
  }

  watchAll(document);
  document.addEventListener("htmx:afterSwap", function (event) { watchAll(event.detail.target); });

  // Paper is narrower than the screen: fit the drawings to it, and back again afterwards.
  function refit() {
    for (const place of document.querySelectorAll("[data-figure]")) {
      if (drawn.has(place)) window.Plotly.Plots.resize(place);
    }
  }
  window.addEventListener("beforeprint", function () { drawAll(); refit(); });
  window.addEventListener("afterprint", refit);
})();

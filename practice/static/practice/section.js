// Draws both halves of a section while they are being typed, and how far the two times lie apart.
// What is saved is drawn anew by the server; without this file the drawing follows each save.
(function () {
  "use strict";
  const form = document.querySelector("form.record");
  if (!form || !document.querySelector("#live-section")) return;

  const SVG = "http://www.w3.org/2000/svg";
  const STYLES = { 1: { stroke: "#1f2a30" }, 2: { stroke: "#8a4b12", "stroke-dasharray": "8 5" } };
  const MM = { mm: 1, cm: 10, in: 25.4, "": 1, '"': 25.4 };
  const MOST_MM = 400;

  // Reads "174", "17.4 cm", "6 1/2 in"; anything else waits for the server.
  function mmOf(text) {
    const found = /^\s*(\d+(?:[.,]\d+)?)?\s*(?:(\d+)\/(\d+))?\s*(mm|cm|in|")?\s*$/i.exec(text);
    if (!found || (found[1] === undefined && found[2] === undefined)) return null;
    const whole = found[1] === undefined ? 0 : Number(found[1].replace(",", "."));
    const part = found[2] === undefined ? 0 : Number(found[2]) / Number(found[3]);
    const value = (whole + part) * MM[(found[4] || "").toLowerCase()];
    return Number.isFinite(value) && value <= MOST_MM ? value : null;
  }

  function widths() {
    const found = {};
    form.querySelectorAll("input[name]").forEach(function (input) {
      const parts = /^([LR])([12])_(\d+)$/.exec(input.name);
      if (!parts) return;
      const name = parts[1] + parts[2];
      const value = mmOf(input.value);
      (found[name] = found[name] || []).push({ depth: Number(parts[3]), width: value });
    });
    return found;
  }

  function drawCurve(svg, name, points) {
    let line = svg.querySelector('[data-curve="' + name + '"]');
    if (!line) {
      line = document.createElementNS(SVG, "polyline");
      line.setAttribute("data-curve", name);
      const style = { fill: "none", "stroke-width": "2.5", "stroke-linejoin": "round", ...STYLES[name[1]] };
      Object.keys(style).forEach(function (key) { line.setAttribute(key, style[key]); });
      svg.append(line);
    }
    const sign = name[0] === "L" ? -1 : 1;
    const known = points.filter(function (p) { return p.width !== null; });
    known.sort(function (a, b) { return a.depth - b.depth; });
    line.setAttribute("points", known.map(function (p) {
      return (sign * p.width).toFixed(1) + "," + p.depth.toFixed(1);
    }).join(" "));
  }

  function widen(svg, all) {
    const box = svg.viewBox.baseVal;
    const reach = Math.max(-box.x, ...all.map(function (p) { return (p.width || 0) + 15; }));
    if (reach > -box.x) svg.setAttribute("viewBox", [-reach, box.y, 2 * reach, box.height].join(" "));
  }

  function showApart(table, found) {
    const limit = Number(table.dataset.limit), from = Number(table.dataset.from);
    let isAny = false;
    table.querySelectorAll("[data-apart]").forEach(function (cell) {
      const [side, depth] = cell.dataset.apart.split("_");
      const pair = ["1", "2"].map(function (trace) {
        const point = (found[side + trace] || []).find(function (p) { return p.depth === Number(depth); });
        return point ? point.width : null;
      });
      const isKnown = pair[0] !== null && pair[1] !== null;
      const apart = isKnown ? Math.abs(pair[0] - pair[1]) : null;
      isAny = isAny || isKnown;
      cell.textContent = isKnown ? String(Math.round(apart * 10) / 10) : "";
      cell.classList.toggle("over", isKnown && Number(depth) >= from && apart >= limit);
    });
    table.hidden = !isAny;
  }

  form.addEventListener("input", function (event) {
    if (!/^[LR][12]_\d+$/.test(event.target.name || "")) return;
    const found = widths();
    const svg = document.querySelector("#live-section svg");
    const names = Object.keys(found);
    names.forEach(function (name) { drawCurve(svg, name, found[name]); });
    widen(svg, names.flatMap(function (name) { return found[name]; }));
    showApart(document.querySelector("#live-section table.apart"), found);
  });
})();

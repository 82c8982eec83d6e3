// Marks are set by tapping the scan. Without this file they are typed.
(function () {
  "use strict";

  const place = document.getElementById("scan-view");
  const source = place && document.getElementById(place.dataset.figureId);
  if (!source) return;
  const figure = JSON.parse(source.textContent);
  const keys = Array.from(document.querySelectorAll("[data-mark]"));
  const words = document.getElementById("active-words");
  const SCAN = 0, DOTS = 1;
  const STEP = Math.PI / 9;
  const TAP_PX = 8;
  let active = null;

  function input(code) { return document.getElementById("id_" + code); }

  function read(code) {
    const parts = input(code).value.split(/[\s,;]+/).filter(Boolean).map(Number);
    return parts.length === 3 && parts.every(Number.isFinite) ? parts : null;
  }

  function choose(code) {
    active = code;
    for (const key of keys) {
      key.setAttribute("aria-pressed", String(key.dataset.mark === code));
      if (key.dataset.mark === code) words.textContent = "Now " + key.dataset.words;
    }
    if (!code) words.textContent = "Every mark is set.";
  }

  function nextEmpty() {
    const found = keys.find(function (key) { return !read(key.dataset.mark); });
    return found ? found.dataset.mark : null;
  }

  function showMarks() {
    const set = [];
    for (const key of keys) {
      const at = read(key.dataset.mark);
      key.classList.toggle("is-set", Boolean(at));
      if (at) set.push([key.dataset.mark, at]);
    }
    const axis = function (n) { return set.map(function (mark) { return mark[1][n]; }); };
    const names = set.map(function (mark) { return mark[0]; });
    window.Plotly.restyle(place, { x: [axis(0)], y: [axis(1)], z: [axis(2)], text: [names] }, [DOTS]);
  }

  function setMark(found) {
    if (!active) return;
    input(active).value = found.map(function (v) { return Number(Number(v).toPrecision(6)); }).join(", ");
    showMarks();
    choose(nextEmpty());
  }

  // --- Turning by buttons: about the view's own up and right, so that it works in any pose --------
  function cross(a, b) { return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]; }
  function unit(a) { const l = Math.hypot(a[0], a[1], a[2]) || 1; return a.map(function (v) { return v / l; }); }
  function about(v, axis, angle) {
    const c = Math.cos(angle), s = Math.sin(angle), across = cross(axis, v);
    const along = axis[0] * v[0] + axis[1] * v[1] + axis[2] * v[2];
    return v.map(function (value, n) { return value * c + across[n] * s + axis[n] * along * (1 - c); });
  }
  function list(o) { return [o.x, o.y, o.z]; }
  function named(a) { return { x: a[0], y: a[1], z: a[2] }; }

  const UPRIGHTS = [[0, 0, 1], [0, 1, 0], [1, 0, 0], [0, 0, -1], [0, -1, 0], [-1, 0, 0]];
  let upright = 0;

  function camera() {
    const now = place.layout.scene.camera || {};
    return { eye: list(now.eye || { x: 1.25, y: 1.25, z: 1.25 }), up: list(now.up || { x: 0, y: 0, z: 1 }) };
  }

  const TURNS = {
    left: function (c) { return { eye: about(c.eye, unit(c.up), STEP), up: c.up }; },
    right: function (c) { return { eye: about(c.eye, unit(c.up), -STEP), up: c.up }; },
    up: function (c) { return tilt(c, STEP); },
    down: function (c) { return tilt(c, -STEP); },
    nearer: function (c) { return { eye: c.eye.map(function (v) { return v / 1.3; }), up: c.up }; },
    farther: function (c) { return { eye: c.eye.map(function (v) { return v * 1.3; }), up: c.up }; },
    upright: function () {
      upright = (upright + 1) % UPRIGHTS.length;
      const up = UPRIGHTS[upright];
      const side = Math.abs(up[0]) < 0.5 ? [1, 0, 0] : [0, 1, 0];
      return { eye: up.map(function (v, n) { return 1.1 * v + 1.1 * side[n] + 0.4; }), up: up };
    },
  };

  function tilt(c, angle) {
    const right = unit(cross(c.up, c.eye));
    return { eye: about(c.eye, right, -angle), up: about(c.up, right, -angle) };
  }

  function turn(how) {
    const next = TURNS[how](camera());
    window.Plotly.relayout(place, { "scene.camera": { eye: named(next.eye), up: named(next.up), center: { x: 0, y: 0, z: 0 } } });
  }

  // --- Tapping: the place on the scan under the finger, in front of all others ----------------------
  // Worked out here from the camera: the drawing library's own picking does not answer to touch.
  let down = null;

  function times(m, v) {  // a 4 by 4 matrix in columns, times a vector
    return [0, 1, 2, 3].map(function (r) { return m[r] * v[0] + m[r + 4] * v[1] + m[r + 8] * v[2] + m[r + 12] * v[3]; });
  }

  function onScreen(scene, box) {
    const look = scene.glplot.cameraParams, scale = scene.dataScale;
    return function (x, y, z) {
      const seen = times(look.projection, times(look.view, times(look.model, [x * scale[0], y * scale[1], z * scale[2], 1])));
      return [box.left + box.width * (0.5 + 0.5 * seen[0] / seen[3]), box.top + box.height * (0.5 - 0.5 * seen[1] / seen[3]), seen[3]];
    };
  }

  // Where the line of sight meets the triangle: its three weights, and how deep; null beside it.
  function meet(a, b, c, px, py) {
    const area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    const v = ((px - a[0]) * (c[1] - a[1]) - (py - a[1]) * (c[0] - a[0])) / area;
    const w = ((b[0] - a[0]) * (py - a[1]) - (b[1] - a[1]) * (px - a[0])) / area;
    if (!(v >= 0 && w >= 0 && v + w <= 1)) return null;
    const parts = [(1 - v - w) / a[2], v / b[2], w / c[2]];
    const whole = parts[0] + parts[1] + parts[2];
    return { weights: parts.map(function (part) { return part / whole; }), depth: 1 / whole };
  }

  function placeAt(px, py) {
    const mesh = place._fullData[SCAN];
    const show = onScreen(place._fullLayout.scene._scene, place.querySelector("canvas").getBoundingClientRect());
    const seen = Array.from(mesh.x, function (x, n) { return show(x, mesh.y[n], mesh.z[n]); });
    let best = null;
    for (let n = 0; n < mesh.i.length; n++) {
      const corners = [mesh.i[n], mesh.j[n], mesh.k[n]];
      const met = meet(seen[corners[0]], seen[corners[1]], seen[corners[2]], px, py);
      if (met && (!best || met.depth < best.depth)) best = { depth: met.depth, weights: met.weights, corners: corners };
    }
    return best && [mesh.x, mesh.y, mesh.z].map(function (axis) {
      return best.corners.reduce(function (sum, corner, n) { return sum + best.weights[n] * axis[corner]; }, 0);
    });
  }

  function tapped(event) {
    const moved = down ? Math.hypot(event.clientX - down.x, event.clientY - down.y) : Infinity;
    down = null;
    if (moved > TAP_PX) return;
    const found = placeAt(event.clientX, event.clientY);
    if (found) setMark(found);
  }

  // Seen upright on a phone: from above, along the screen.
  function fit() {
    const look = figure.layout.meta && figure.layout.meta.upright;
    if (look && place.clientWidth < place.clientHeight) figure.layout.scene.camera = look;
  }

  fit();
  window.Plotly.newPlot(place, figure.data, figure.layout, { displayModeBar: false, responsive: true, scrollZoom: true }).then(function () {
    place.addEventListener("pointerdown", function (event) { down = { x: event.clientX, y: event.clientY }; }, true);
    place.addEventListener("pointerup", tapped, true);
    for (const key of keys) {
      key.addEventListener("click", function () { choose(key.dataset.mark); });
      input(key.dataset.mark).addEventListener("change", function () { showMarks(); choose(nextEmpty()); });
    }
    for (const button of document.querySelectorAll("[data-turn]")) {
      button.addEventListener("click", function () { turn(button.dataset.turn); });
    }
    showMarks();
    choose(nextEmpty());
  });
})();

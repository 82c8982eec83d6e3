// Marks on a photo of a tracing: tap to set, drag or arrow keys to move, a magnifier while moving.
// The marks live in one hidden field; every change is sent, and the server follows the line.
(function () {
  "use strict";
  const form = document.querySelector("form.tracing");
  const field = form && form.elements.marks;
  const sheet = document.getElementById("stage-sheet");
  if (!field || !sheet || form.querySelector("fieldset.whole:disabled")) return;

  const photo = document.getElementById("stage-photo");
  const stage = document.getElementById("stage");
  const layer = document.getElementById("stage-marks");
  const loupe = document.getElementById("loupe");
  const ask = document.getElementById("tracing-ask");
  const remove = form.querySelector("[data-remove]");
  const isSection = layer.dataset.section === "yes";
  const SIZE = { x: Number(photo.getAttribute("width")), y: Number(photo.getAttribute("height")) };
  const MOST = { corners: 4, marks: 2, line: 40, zero: 1, level: 2 };
  const ENDS = isSection ? ["left end (near side)", "right end (off side)"] : ["front end", "rear end"];
  const ZERO = isSection ? "the midline crosses the line" : "the rear edge of the blade meets the line";
  const LOUPE_ZOOM = 1.6; // screen pixels for each pixel of the photo
  let marks = read(), kind = null, held = null, zoom = 1;

  function read() {
    try { return JSON.parse(field.value || "{}"); } catch (error) { return {}; }
  }
  function of(name) { return marks[name] || (marks[name] = []); }
  function scale() {
    const chosen = form.querySelector("input[name=scale]:checked");
    return chosen ? chosen.value : "corners";
  }

  // What is asked for next
  function nextKind() {
    const first = { corners: "corners", marks: "marks" }[scale()];
    if (first && of(first).length < MOST[first]) return first;
    if (of("line").length < 2) return "line";
    if (!of("zero").length) return "zero";
    if (scale() === "marks" && of("level").length < 2) return "level";
    return null;
  }
  function wordsFor(name) {
    const count = of(name).length;
    if (name === "corners") return count < 4 ? "Tap the corners of the sheet, one after the other (" + (count + 1) + " of 4)." : "All four corners are marked; a tap moves the nearest.";
    if (name === "marks") return count < 2 ? "Tap the two marks whose distance you know (" + (count + 1) + " of 2)." : "Both marks are set; a tap moves the nearest.";
    if (name === "line") {
      if (count < 2) return "Tap the " + ENDS[count] + " of the line.";
      return "Tap the line where it is followed wrongly.";
    }
    if (name === "zero") return "Tap where " + ZERO + ".";
    return of("level").length < 2 ? "Tap two points that were level with each other; without them the edge of the paper is level." : "The level is marked; a tap moves the nearer point.";
  }
  function labelOf(name, n) {
    if (name === "line") return n === 0 ? (isSection ? "L" : "front") : n === of("line").length - 1 ? (isSection ? "R" : "rear") : "";
    if (name === "zero") return isSection ? "midline" : "blade";
    return name === "level" ? "level" : "";
  }

  // Drawing the marks
  function place(button, point) {
    button.style.left = (100 * (point[0] + 0.5)) / SIZE.x + "%";
    button.style.top = (100 * (point[1] + 0.5)) / SIZE.y + "%";
  }
  function draw() {
    const focused = held ? held.name + held.n : null;
    const shown = kind || nextKind(), now = shown || "line";
    layer.replaceChildren();
    Object.keys(MOST).forEach(function (name) {
      if ((name === "corners" || name === "marks") && name !== scale()) return;
      of(name).forEach(function (point, n) {
        const button = document.createElement("button");
        button.type = "button";
        // Only marks of the kind being set can be grabbed: a finger near them must not catch others.
        button.className = "point " + name + (name === now ? " now" : "");
        button.setAttribute("aria-label", { corners: "Corner", marks: "Mark", line: "Point of the line", zero: isSection ? "Midline" : "Blade", level: "Level" }[name] + " " + (n + 1) + " of " + of(name).length);
        const label = labelOf(name, n);
        if (label) button.append(Object.assign(document.createElement("span"), { textContent: label }));
        place(button, point);
        hold(button, name, n);
        layer.append(button);
        if (name + n === focused) button.focus({ preventScroll: true });
      });
    });
    form.querySelectorAll("[data-count]").forEach(function (box) {
      const name = box.dataset.count, count = of(name).length;
      box.textContent = name === "line" ? String(count) : count + "/" + MOST[name];
    });
    ask.textContent = shown ? wordsFor(shown) : "All is marked. Look whether the line is followed well; tap it where it is not.";
    const key = form.querySelector('input[name=kind][value="' + now + '"]');
    if (key) key.checked = true;
    remove.disabled = !held;
  }
  function send() {
    field.value = JSON.stringify(marks);
    if (window.htmx) window.htmx.trigger(form, "keep");
  }
  function changed() { draw(); send(); }

  // Setting
  function pointAt(event) {
    const box = photo.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * SIZE.x - 0.5;
    const y = ((event.clientY - box.top) / box.height) * SIZE.y - 0.5;
    return inside([x, y]);
  }
  function inside(point) {
    return [Math.min(Math.max(point[0], 0), SIZE.x - 1), Math.min(Math.max(point[1], 0), SIZE.y - 1)].map(function (v) { return Math.round(v * 10) / 10; });
  }
  function away(a, b) { return Math.hypot(a[0] - b[0], a[1] - b[1]); }
  function nearest(points, to) {
    let best = 0;
    points.forEach(function (p, n) { if (away(p, to) < away(points[best], to)) best = n; });
    return best;
  }
  // A point between the ends goes where it lengthens the way least.
  function intoLine(points, point) {
    if (points.length < 2) { points.push(point); return points.length - 1; }
    let best = 1, least = Infinity;
    for (let n = 1; n < points.length; n += 1) {
      const more = away(points[n - 1], point) + away(point, points[n]) - away(points[n - 1], points[n]);
      if (more < least) { least = more; best = n; }
    }
    points.splice(best, 0, point);
    return best;
  }
  function set(point) {
    const name = kind || nextKind() || "line", points = of(name);
    let n;
    if (name === "line") n = intoLine(points, point);
    else if (points.length < MOST[name]) n = points.push(point) - 1;
    else { n = nearest(points, point); points[n] = point; }
    held = { name: name, n: n };
    if (kind && kind !== "line" && points.length >= MOST[name]) kind = null;
    changed();
  }
  photo.addEventListener("click", function (event) { set(pointAt(event)); });

  // Moving
  function magnify(point) {
    const size = loupe.clientWidth / 2;
    loupe.hidden = false;
    loupe.style.backgroundImage = 'url("' + photo.currentSrc + '")';
    loupe.style.backgroundSize = SIZE.x * LOUPE_ZOOM + "px auto";
    const half = loupe.clientWidth / 2 || size;
    loupe.style.backgroundPosition = half - (point[0] + 0.5) * LOUPE_ZOOM + "px " + (half - (point[1] + 0.5) * LOUPE_ZOOM) + "px";
    const box = stage.getBoundingClientRect(), at = photo.getBoundingClientRect();
    const across = at.left + (point[0] / SIZE.x) * at.width - box.left;
    loupe.classList.toggle("left", across > box.width / 2);
  }
  function hold(button, name, n) {
    let from = null;
    button.addEventListener("pointerdown", function (event) {
      event.preventDefault();
      button.focus({ preventScroll: true });
      held = { name: name, n: n };
      remove.disabled = false;
      from = { pointer: pointAt(event), point: of(name)[n].slice(), isMoved: false };
      button.setPointerCapture(event.pointerId);
      button.classList.add("held");
      magnify(of(name)[n]);
    });
    button.addEventListener("pointermove", function (event) {
      if (!from) return;
      const now = pointAt(event);
      const point = inside([from.point[0] + now[0] - from.pointer[0], from.point[1] + now[1] - from.pointer[1]]);
      from.isMoved = from.isMoved || away(point, from.point) > 1;
      of(name)[n] = point;
      place(button, point);
      magnify(point);
    });
    ["pointerup", "pointercancel"].forEach(function (end) {
      button.addEventListener(end, function () {
        if (!from) return;
        const isMoved = from.isMoved;
        from = null;
        button.classList.remove("held");
        loupe.hidden = true;
        if (isMoved) changed();
      });
    });
    button.addEventListener("focus", function () { held = { name: name, n: n }; remove.disabled = false; });
    button.addEventListener("keydown", function (event) {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (event.key === "Delete" || event.key === "Backspace") { event.preventDefault(); drop(); return; }
      if (!step) return;
      event.preventDefault();
      const far = event.shiftKey ? 10 : 1, at = of(name)[n];
      of(name)[n] = inside([at[0] + far * step[0], at[1] + far * step[1]]);
      held = { name: name, n: n };
      place(button, of(name)[n]);
      magnify(of(name)[n]);
    });
    button.addEventListener("keyup", function (event) {
      if (!event.key.startsWith("Arrow")) return;
      loupe.hidden = true;
      send();
    });
  }
  function drop() {
    if (!held) return;
    of(held.name).splice(held.n, 1);
    kind = null;
    held = null;
    changed();
  }
  remove.addEventListener("click", drop);

  // Which kind, how large
  form.querySelectorAll("input[name=kind]").forEach(function (key) {
    key.addEventListener("change", function (event) {
      event.stopPropagation();
      kind = key.value;
      draw();
    });
  });
  form.querySelectorAll("input[name=scale]").forEach(function (key) {
    key.addEventListener("change", function () { kind = null; draw(); });
  });
  form.querySelectorAll("[data-zoom]").forEach(function (button) {
    button.addEventListener("click", function () {
      const middle = { x: (stage.scrollLeft + stage.clientWidth / 2) / zoom, y: (stage.scrollTop + stage.clientHeight / 2) / zoom };
      zoom = Math.min(Math.max(zoom * (button.dataset.zoom === "in" ? 1.5 : 1 / 1.5), 1), 8);
      sheet.style.width = 100 * zoom + "%";
      stage.scrollLeft = middle.x * zoom - stage.clientWidth / 2;
      stage.scrollTop = middle.y * zoom - stage.clientHeight / 2;
    });
  });
  draw();
})();

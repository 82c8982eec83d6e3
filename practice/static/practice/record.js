// Recording: answers to "is this right?" and errors told to assistive technology while saving as
// you go. Without this file the pages work through their Save buttons.
(function () {
  "use strict";
  const form = document.querySelector("form.record");
  if (!form || !window.htmx) return;

  function confirmValue(name) {
    const input = form.elements[name];
    const sure = form.elements.sure;
    if (!input || !sure) return false;
    sure.value = (sure.value ? sure.value + "\n" : "") + name + "=" + input.value.trim();
    htmx.trigger(form, "keep");
    return true;
  }

  form.addEventListener("click", function (event) {
    const button = event.target.closest("button[name=confirm]");
    if (button && confirmValue(button.value)) event.preventDefault();
  });

  function markErrors() {
    form.querySelectorAll(".errors[id]").forEach(function (box) {
      const input = document.getElementById("id_" + box.id.replace(/^errors-/, ""));
      if (!input) return;
      const isWrong = box.querySelector(".error") !== null;
      input.setAttribute("aria-invalid", isWrong ? "true" : "false");
      if (!isWrong) return;
      input.setAttribute("aria-describedby", box.id);
      const fold = box.closest("details");
      if (fold) fold.open = true;
    });
  }

  // A signal lost in the barn must not look like a save.
  function sayUnsent() {
    const state = document.getElementById("save-state");
    if (state) state.innerHTML = '<span class="unsaved">Not saved: no connection. Keep this page open.</span>';
  }

  document.addEventListener("htmx:afterSettle", markErrors);
  document.addEventListener("htmx:afterRequest", markErrors);
  document.addEventListener("htmx:sendError", sayUnsent);
  document.addEventListener("htmx:responseError", sayUnsent);
  markErrors();
})();

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

  // A signal lost in the barn, or a sign-in that ran out, must not look like a save.
  let isUnsent = false;
  function sayUnsent(words) {
    isUnsent = true;
    const state = document.createElement("span");
    state.className = "unsaved";
    state.textContent = words;
    document.getElementById("save-state").replaceChildren(state);
  }
  const NO_SIGNAL = "Not saved: no connection. Keep this page open.";

  document.addEventListener("htmx:afterSettle", markErrors);
  document.addEventListener("htmx:sendError", function () { sayUnsent(NO_SIGNAL); });
  document.addEventListener("htmx:responseError", function (event) {
    sayUnsent("Not saved (" + event.detail.xhr.status + "). Keep this page open and try again.");
  });
  document.addEventListener("htmx:afterRequest", function (event) {
    markErrors();
    if (!event.detail.successful) return;
    isUnsent = !event.detail.xhr.responseText.includes("#save-state");
    if (isUnsent) sayUnsent("Not saved: you are signed out. Sign in on another page, then try again.");
  });
  form.addEventListener("submit", function (event) {
    if (navigator.onLine) { isUnsent = false; return; }
    event.preventDefault();
    sayUnsent(NO_SIGNAL);
  });
  window.addEventListener("beforeunload", function (event) {
    if (isUnsent) event.preventDefault();
  });
  markErrors();
})();

// The few things pages need beyond plain HTML and htmx. Every page works without this file.
(function () {
  "use strict";

  // "Yes, it is right": remember the confirmed value and send the form again.
  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-sure]");
    if (!button) return;
    const form = button.closest("form");
    const name = button.dataset.sure;
    const input = form.elements[name];
    const prefix = name.includes("-") ? name.slice(0, name.lastIndexOf("-") + 1) : "";
    const sure = form.elements[prefix + "sure"];
    if (!input || !sure) return;
    const short = name.slice(prefix.length);
    sure.value = (sure.value ? sure.value + "\n" : "") + short + "=" + input.value.trim();
    form.requestSubmit();
  });

  // Send the CSRF token with htmx requests.
  document.addEventListener("htmx:configRequest", function (event) {
    const token = document.querySelector("[name=csrfmiddlewaretoken]");
    if (token) event.detail.headers["X-CSRFToken"] = token.value;
  });
})();

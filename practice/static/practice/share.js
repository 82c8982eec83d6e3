// Copying a link and printing. Without this file the address can still be marked and copied by hand.
(function () {
  "use strict";

  async function copy(button) {
    const input = document.getElementById(button.dataset.copy);
    input.select();
    try {
      await navigator.clipboard.writeText(input.value);
    } catch {
      document.execCommand("copy"); // a plain http address in a barn has no clipboard of its own
    }
    const words = button.textContent;
    button.textContent = "Copied";
    setTimeout(function () { button.textContent = words; }, 2000);
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-copy]");
    if (button) copy(button);
    if (event.target.closest("[data-print]")) window.print();
  });
})();

// Keys that a tablet's own keyboard does not have: pressed in the terminal as if they were there.
"use strict";
for (const button of document.querySelectorAll("nav button")) {
  button.addEventListener("click", () => {
    const input = document.querySelector(".xterm-helper-textarea");
    const code = Number(button.dataset.code);
    input.focus();
    for (const kind of ["keydown", "keyup"]) { // without the second no text is taken after it
      input.dispatchEvent(new KeyboardEvent(kind, {
        key: button.dataset.key, keyCode: code, which: code,
        ctrlKey: "ctrl" in button.dataset, bubbles: true, cancelable: true,
      }));
    }
  });
}

// A press on the radiograph sets point A, the next B; keys on it take the steps beside it.
// Everything works without this file: the points can be typed, the steps are links.
(() => {
  "use strict";
  const sheet = document.querySelector("[data-film]");
  const light = document.querySelector("[data-film-light]");
  const form = document.querySelector("[data-film-form]");
  if (!sheet || !light || !form) return;

  const whole = (name) => Number(sheet.dataset[name]);
  const field = (name) => form.elements.namedItem(name);

  function pixel(event) {
    const box = light.getBoundingClientRect();
    const share = (at, from, size) => Math.min(0.999999, Math.max(0, (at - from) / size));
    return {
      x: whole("left") + Math.floor(share(event.clientX, box.left, box.width) * whole("across")),
      y: whole("top") + Math.floor(share(event.clientY, box.top, box.height) * whole("down")),
    };
  }

  light.classList.add("is-pressable");
  light.addEventListener("click", (event) => {
    const { x, y } = pixel(event);
    const both = field("ax").value !== "" && field("bx").value !== "";
    const point = field("ax").value === "" || both ? "a" : "b";
    if (both) field("bx").value = field("by").value = "";
    field(`${point}x`).value = x;
    field(`${point}y`).value = y;
    form.requestSubmit();
  });

  sheet.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
    if (!step) return;
    event.preventDefault();
    step.click();
  });

  // Back from a step, the keys go on where they were.
  if (location.hash === "#film") sheet.focus({ preventScroll: true });
})();

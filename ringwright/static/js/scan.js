// A scan from anywhere lands in the scan field. A scanner types like a person, only much faster;
// what it types must reach neither another field nor a button.
(() => {
  "use strict";
  const FAST_MS = 35;
  const SURE = 3;
  // While an act waits for a signature, what is scanned is a badge.
  const field = () => document.querySelector("[data-badge]") ?? document.querySelector("[data-scan]");
  let burst = "";
  let last = 0;
  let before = null;

  const takesText = (element) =>
    element?.matches?.("textarea, select, [contenteditable], input:not([type=radio], [type=checkbox], [type=button], [type=submit])");

  function begin(element) {
    before = element && "value" in element ? { element, value: element.value } : null;
  }

  // The letters already typed into another field go where the scan belongs.
  function move(scan, key) {
    if (before) before.element.value = before.value;
    scan.value = burst + (key ?? "");
    scan.focus();
  }

  function submit(scan) {
    if (scan.value.trim() && scan.form) scan.form.requestSubmit();
  }

  // A badge scanned where none is asked for goes nowhere: it must not stand in an address.
  document.addEventListener("submit", (event) => {
    const scan = event.target.querySelector?.("[data-scan]");
    if (!scan || !/^\s*RWB1/i.test(scan.value)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    scan.value = "";
  }, true);

  document.addEventListener("keydown", (event) => {
    const scan = field();
    if (!scan || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    const now = performance.now();
    const fast = now - last < FAST_MS;
    const here = document.activeElement;
    const printable = event.key.length === 1;
    // A field that asks for serials takes the scan itself; its Enter sends nothing.
    if (here?.matches?.("[data-wants-serial]")) {
      if (event.key === "Enter" && fast && here.tagName !== "TEXTAREA") event.preventDefault();
      if (printable || event.key === "Enter") last = now;
      burst = "";
      return;
    }

    if (event.key === "Enter" || event.key === "Tab") {
      const scanned = fast && burst.length >= SURE;
      if (here !== scan && scanned) {
        event.preventDefault();
        move(scan);
        submit(scan);
      } else if (here === scan && scanned && event.key === "Tab") {
        event.preventDefault();
        submit(scan);
      }
      burst = "";
      return;
    }
    if (!printable) return;

    if (here === scan) {
      burst = fast ? burst + event.key : event.key;
      last = now;
      return;
    }
    if (!takesText(here)) {
      if (event.key === " " && here && here !== document.body) return;
      event.preventDefault();
      last = now;
      burst = event.key === "/" ? "" : event.key;
      if (event.key === "/") { scan.focus(); scan.select(); return; }
      before = null;
      scan.value = fast ? scan.value + event.key : event.key;
      scan.focus();
      return;
    }
    if (!fast) { burst = ""; begin(here); }
    burst += event.key;
    last = now;
    if (burst.length >= SURE && fast) {
      event.preventDefault();
      move(scan);
    }
  }, true);
})();

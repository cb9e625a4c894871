// The button beside a sheet presses the browser's own print command.
document.addEventListener("click", (event) => { if (event.target.closest?.("[data-print]")) window.print(); });

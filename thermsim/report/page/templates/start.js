/* Everything that moves starts here; details open for print. */

document.documentElement.classList.remove("no-script");
const views = byId("views") ? new Views(byId("views")) : null;
const placement = byId("placement") ? new Placement(byId("placement"), data.place) : null;
drawStandingCharts();

let closed = [];
window.addEventListener("beforeprint", () => {
  closed = [...document.querySelectorAll("details:not([open])")];
  for (const one of closed) one.open = true;
  for (const one of closed) one.querySelectorAll("[data-chart]").forEach(drawStanding); // no time to wait for a width
  for (const view of views ? views.views : []) view.drawMachinery();
});
window.addEventListener("afterprint", () => { for (const one of closed) one.open = false; });

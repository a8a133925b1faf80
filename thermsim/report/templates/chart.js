/* Line charts as SVG, drawn at the width they are given, so that text keeps its size on a phone. */

const SVG_GAP = 15; // between labels
const NARROW = 560; // below this labels go under the chart

/* Draw `chart` into `box`. `options.range`: [low, high] of y; `options.cursor`: x of a vertical line. */
function drawChart(box, chart, options = {}) {
  const width = Math.max(box.clientWidth, 280);
  const narrow = width < NARROW;
  const height = options.height || (narrow ? 230 : 300);
  const labels = chart.labels || chart.lines.map((line) => ({ text: line.name, y: line.y[line.y.length - 1], colour: line.colour }));
  const gutter = narrow ? 12 : Math.min(Math.max(...labels.map((label) => label.text.length), 4) * 6.4 + 26, width * 0.42);
  const frame = { left: 46, right: width - gutter, top: 24, bottom: height - 36 };
  const [xLow, xHigh] = extent(chart.lines.map((line) => line.x));
  const [yLow, yHigh] = options.range || chartRange(chart);
  const px = (x) => frame.left + ((x - xLow) / (xHigh - xLow || 1)) * (frame.right - frame.left);
  const py = (y) => frame.bottom - ((y - yLow) / (yHigh - yLow || 1)) * (frame.bottom - frame.top);
  const svg = drawn("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": chart.title || chart.y_label });
  drawAxes(svg, chart, frame, px, py, [xLow, xHigh], [yLow, yHigh]);
  for (const band of chart.bands || []) {
    const [from, to] = [Math.max(band.from, xLow), Math.min(band.to, xHigh)].map(px);
    if (to <= from) continue;
    svg.append(drawn("rect", { x: from, y: frame.top, width: to - from, height: frame.bottom - frame.top, fill: band.colour, opacity: 0.25 }));
    svg.append(drawn("text", { x: from + 4, y: frame.top + 13, class: "halo" }, band.text));
  }
  for (const line of chart.lines) svg.append(drawLine(line, px, py));
  for (const limit of chart.limits || []) {
    if (limit.y < yLow || limit.y > yHigh) continue;
    const style = { stroke: limit.colour, "stroke-width": 2.5, "stroke-dasharray": "5 2" };
    svg.append(drawn("line", { x1: frame.right - 22, x2: frame.right, y1: py(limit.y), y2: py(limit.y), ...style }));
  }
  for (const level of chart.levels || []) drawLevel(svg, level, frame, py, yLow, yHigh);
  drawMarks(svg, chart.marks || [], frame, px, xLow, xHigh);
  if (options.cursor !== undefined && options.cursor <= xHigh) {
    const x = px(options.cursor);
    svg.append(drawn("line", { x1: x, x2: x, y1: frame.top, y2: frame.bottom, stroke: "#1d2730", "stroke-width": 1, class: "cursor" }));
  }
  box.replaceChildren(svg);
  if (narrow) box.append(legend(labels, chart.lines));
  else drawLabels(svg, labels, frame, py);
  followPointer(box, svg, chart, { px, py, frame, width });
}

function extent(lists) {
  const all = lists.flat().filter((value) => value !== null);
  return all.length ? [Math.min(...all), Math.max(...all)] : [0, 1];
}

/* range of y: the curves, and limits and levels that are not far from them */
function chartRange(chart) {
  let [low, high] = extent(chart.lines.map((line) => line.y));
  if (chart.from_zero) low = Math.min(low, 0);
  const reach = 0.35 * (high - low || 1);
  const near = [...(chart.limits || []), ...(chart.levels || [])].map((one) => one.y);
  [low, high] = extent([[low, high], near.filter((y) => y >= low - reach && y <= high + reach)]);
  const air = 0.04 * (high - low) || 1;
  return [chart.from_zero && low === 0 ? 0 : low - air, high + air];
}

function drawAxes(svg, chart, frame, px, py, [xLow, xHigh], [yLow, yHigh]) {
  const across = ticks(xLow, xHigh, (frame.right - frame.left) / 80);
  const up = ticks(yLow, yHigh, (frame.bottom - frame.top) / 34);
  for (const y of up.found) {
    svg.append(drawn("line", { x1: frame.left, x2: frame.right, y1: py(y), y2: py(y), stroke: "#e3e7e9" }));
    svg.append(drawn("text", { x: frame.left - 6, y: py(y) + 4, "text-anchor": "end" }, number(y, up.digits)));
  }
  for (const x of across.found) {
    svg.append(drawn("line", { x1: px(x), x2: px(x), y1: frame.bottom, y2: frame.bottom + 4, stroke: "#6d7880" }));
    svg.append(drawn("text", { x: px(x), y: frame.bottom + 17, "text-anchor": "middle" }, number(x, across.digits)));
  }
  svg.append(drawn("line", { x1: frame.left, x2: frame.right, y1: frame.bottom, y2: frame.bottom, stroke: "#6d7880" }));
  svg.append(drawn("text", { x: frame.right, y: frame.bottom + 32, "text-anchor": "end" }, chart.x_label));
  svg.append(drawn("text", { x: 2, y: 13, "font-weight": 600 }, chart.y_label));
}

function drawLine(line, px, py) {
  let path = "";
  let pen = false;
  line.x.forEach((x, k) => {
    if (line.y[k] === null) { pen = false; return; }
    path += `${pen ? "L" : "M"}${px(x).toFixed(1)} ${py(line.y[k]).toFixed(1)}`;
    pen = true;
  });
  return drawn("path", { d: path, fill: "none", stroke: line.colour, "stroke-width": 1.7, "stroke-dasharray": line.dash || "none", "stroke-linejoin": "round" });
}

function drawLevel(svg, level, frame, py, yLow, yHigh) {
  if (level.y < yLow || level.y > yHigh) return;
  const y = py(level.y);
  svg.append(drawn("line", { x1: frame.left, x2: frame.right, y1: y, y2: y, stroke: level.colour, "stroke-dasharray": "6 4" }));
  const above = y - frame.top > 18;
  svg.append(drawn("text", { x: frame.right - 4, y: above ? y - 4 : y + 13, "text-anchor": "end", class: "halo", style: `fill:${level.colour}` }, level.text));
}

function drawMarks(svg, marks, frame, px, xLow, xHigh) {
  marks.filter((mark) => mark.x >= xLow && mark.x <= xHigh).forEach((mark, k) => {
    const x = px(mark.x);
    const left = x > (frame.left + frame.right) / 2;
    svg.append(drawn("line", { x1: x, x2: x, y1: frame.top, y2: frame.bottom, stroke: mark.colour, "stroke-dasharray": "2 3" }));
    const place = { x: left ? x - 5 : x + 5, y: frame.bottom - 8 - 15 * k, "text-anchor": left ? "end" : "start", class: "halo" };
    svg.append(drawn("text", { ...place, style: `fill:${mark.colour}` }, mark.text));
  });
}

function drawLabels(svg, labels, frame, py) {
  const places = apart(labels.map((label) => py(label.y)), SVG_GAP, frame.top, frame.bottom);
  labels.forEach((label, k) => {
    const tie = `M${frame.right + 2} ${py(label.y)}L${frame.right + 10} ${places[k]}h8`;
    svg.append(drawn("path", { d: tie, stroke: label.colour, "stroke-width": 2, fill: "none" }));
    svg.append(drawn("text", { x: frame.right + 21, y: places[k] + 4 }, label.text));
  });
}

function legend(labels, lines) {
  const list = element("ul", { class: "legend" });
  for (const label of [...labels].sort((a, b) => b.y - a.y)) {
    const line = lines.find((one) => one.colour === label.colour && label.text.startsWith(one.name)) || label;
    const key = drawn("svg", { viewBox: "0 0 30 10", "aria-hidden": "true" });
    key.append(drawn("line", { x1: 0, x2: 30, y1: 5, y2: 5, stroke: label.colour, "stroke-width": 3, "stroke-dasharray": line.dash || "none" }));
    list.append(element("li", {}, key, label.text));
  }
  return list;
}

/* the curve nearest to the pointer tells its name and value */
function followPointer(box, svg, chart, { px, py, frame, width }) {
  const dot = drawn("circle", { r: 4, fill: "#fff", "stroke-width": 2, visibility: "hidden" });
  const text = drawn("text", { class: "halo", visibility: "hidden" });
  svg.append(dot, text);
  svg.addEventListener("pointermove", (event) => {
    const bounds = svg.getBoundingClientRect();
    const zoom = width / bounds.width;
    const at = [(event.clientX - bounds.left) * zoom, (event.clientY - bounds.top) * zoom];
    const [xLow, xHigh] = extent(chart.lines.map((line) => line.x));
    const x = xLow + ((at[0] - frame.left) / (frame.right - frame.left)) * (xHigh - xLow);
    if (x < xLow || x > xHigh) return;
    let near = null;
    for (const line of chart.lines) {
      const y = valueAt(line, x);
      if (y === null || x > line.x[line.x.length - 1]) continue;
      const off = Math.abs(py(y) - at[1]);
      if (!near || off < near.off) near = { off, y, line };
    }
    if (!near) return;
    const left = px(x) > (frame.left + frame.right) / 2;
    for (const [key, value] of Object.entries({ cx: px(x), cy: py(near.y), stroke: near.line.colour, visibility: "visible" })) dot.setAttribute(key, value);
    const place = { x: px(x) + (left ? -9 : 9), y: Math.max(py(near.y) - 9, 24), "text-anchor": left ? "end" : "start", visibility: "visible" };
    for (const [key, value] of Object.entries(place)) text.setAttribute(key, value);
    text.textContent = `${near.line.name} ${number(near.y)} at ${number(x)}`;
  });
  svg.addEventListener("pointerleave", () => { for (const one of [dot, text]) one.setAttribute("visibility", "hidden"); });
}

/* charts that stand alone: <figure class="chart" data-chart="name"> */
function drawStandingCharts() {
  for (const box of document.querySelectorAll("[data-chart]")) {
    const draw = () => drawChart(box, data.charts[box.dataset.chart]);
    drawWhenWide(box, draw);
    const choice = byId(box.dataset.choice);
    if (choice) choice.addEventListener("change", () => { box.dataset.chart = choice.value; draw(); });
  }
}

/* draw now and whenever the width changes */
function drawWhenWide(box, draw) {
  let width = 0;
  new ResizeObserver(() => {
    if (box.clientWidth && box.clientWidth !== width) { width = box.clientWidth; draw(); }
  }).observe(box);
}

/* Line charts as SVG, drawn at the width they are given, so that text keeps its size on a phone. */

const LABEL_GAP = 15; // between lines of text
const NARROW = 560; // below this labels go under the chart

/* Draw `chart` into `box`. `options.range`: [low, high] of y; `options.cursor`: x of a vertical line. */
function drawChart(box, chart, options = {}) {
  const width = Math.max(box.clientWidth, 280);
  const narrow = width < NARROW;
  const height = options.height || (narrow ? 230 : 300);
  const labels = chart.labels || chart.lines.map(endLabel);
  const longest = Math.max(...labels.map((label) => label.text.length), 4);
  const gutter = narrow ? 12 : Math.min(longest * 6.4 + 26, width * 0.42);
  const frame = { left: 46, right: width - gutter, top: 24, bottom: height - 36, width };
  const x = axis(extent(chart.lines.map((line) => line.x)), frame.left, frame.right);
  const y = axis(options.range || chartRange(chart), frame.bottom, frame.top);
  const svg = draw(null, "svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": chart.y_label });
  drawAxes(svg, chart, frame, x, y);
  for (const band of chart.bands || []) drawBand(svg, band, frame, x);
  for (const area of chart.areas || []) drawArea(svg, area, x, y);
  for (const line of chart.lines) drawLine(svg, line, x, y);
  for (const limit of chart.limits || []) drawLimit(svg, limit, frame, y);
  for (const level of chart.levels || []) drawLevel(svg, level, frame, y);
  (chart.marks || []).filter((mark) => x.holds(mark.x)).forEach((mark, k) => drawMark(svg, mark, k, frame, x));
  const { cursor } = options;
  if (cursor !== undefined && x.holds(cursor)) upright(svg, x(cursor), frame, { class: "cursor" });
  box.replaceChildren(svg);
  if (narrow) box.append(legend(labels, chart.lines));
  else drawLabels(svg, labels, frame, y);
  followPointer(svg, chart, frame, x, y);
}

function endLabel(line) {
  return { text: line.name, y: line.y[line.y.length - 1], colour: line.colour };
}

/* from values to pixels; knows its ends, what it holds, and the way back */
function axis([low, high], from, to) {
  const place = (value) => from + ((value - low) / (high - low || 1)) * (to - from);
  place.ends = [low, high];
  place.holds = (value) => value >= low && value <= high;
  place.back = (pixel) => low + ((pixel - from) / (to - from)) * (high - low);
  return place;
}

function extent(lists) {
  const all = lists.flat().filter((value) => value !== null);
  return all.length ? [Math.min(...all), Math.max(...all)] : [0, 1];
}

/* range of y: the curves, and limits and levels that are not far from them */
function chartRange(chart) {
  const areas = (chart.areas || []).flatMap((area) => [area.low, area.high]);
  let [low, high] = extent([...chart.lines.map((line) => line.y), ...areas]);
  if (chart.from_zero) low = Math.min(low, 0);
  const reach = 0.35 * (high - low || 1);
  const near = [...(chart.limits || []), ...(chart.levels || [])].map((one) => one.y);
  [low, high] = extent([[low, high], near.filter((y) => y >= low - reach && y <= high + reach)]);
  const air = 0.04 * (high - low) || 1;
  return [chart.from_zero && low === 0 ? 0 : low - air, high + air];
}

function drawAxes(svg, chart, { left, right, top, bottom }, x, y) {
  const across = ticks(...x.ends, (right - left) / 80);
  const up = ticks(...y.ends, (bottom - top) / 34);
  for (const value of up.found) {
    draw(svg, "line", { x1: left, x2: right, y1: y(value), y2: y(value), stroke: "#e3e7e9" });
    draw(svg, "text", { x: left - 6, y: y(value) + 4, "text-anchor": "end" }, number(value, up.digits));
  }
  for (const value of across.found) {
    draw(svg, "line", { x1: x(value), x2: x(value), y1: bottom, y2: bottom + 4, stroke: "#6d7880" });
    draw(svg, "text", { x: x(value), y: bottom + 17, "text-anchor": "middle" }, number(value, across.digits));
  }
  draw(svg, "line", { x1: left, x2: right, y1: bottom, y2: bottom, stroke: "#6d7880" });
  draw(svg, "text", { x: right, y: bottom + 32, "text-anchor": "end" }, chart.x_label);
  draw(svg, "text", { x: 2, y: 13, "font-weight": 600 }, chart.y_label);
}

function drawBand(svg, band, { top, bottom }, x) {
  const [from, to] = [Math.max(band.from, x.ends[0]), Math.min(band.to, x.ends[1])].map(x);
  if (to <= from) return;
  draw(svg, "rect", { x: from, y: top, width: to - from, height: bottom - top, fill: band.colour, opacity: 0.25 });
  draw(svg, "text", { x: from + 4, y: top + 13, class: "halo" }, band.text);
}

/* between two curves */
function drawArea(svg, area, x, y) {
  const there = (values) => area.x.map((value, k) => `${x(value).toFixed(1)} ${y(values[k]).toFixed(1)}`);
  const path = `M${[...there(area.high), ...there(area.low).reverse()].join("L")}Z`;
  draw(svg, "path", { d: path, fill: area.colour, opacity: 0.2 });
}

function drawLine(svg, line, x, y) {
  let path = "";
  let pen = "M";
  line.x.forEach((value, k) => {
    if (line.y[k] === null) { pen = "M"; return; }
    path += `${pen}${x(value).toFixed(1)} ${y(line.y[k]).toFixed(1)}`;
    pen = "L";
  });
  const style = { "stroke-width": 1.7, "stroke-dasharray": line.dash || "none", "stroke-linejoin": "round" };
  draw(svg, "path", { d: path, fill: "none", stroke: line.colour, ...style });
}

/* a short dash at the right, in the colour of the curve it is for */
function drawLimit(svg, limit, { right }, y) {
  if (!y.holds(limit.y)) return;
  const style = { stroke: limit.colour, "stroke-width": 2.5, "stroke-dasharray": "5 2" };
  draw(svg, "line", { x1: right - 22, x2: right, y1: y(limit.y), y2: y(limit.y), ...style });
}

function drawLevel(svg, level, { left, right, top }, y) {
  if (!y.holds(level.y)) return;
  const at = y(level.y);
  draw(svg, "line", { x1: left, x2: right, y1: at, y2: at, stroke: level.colour, "stroke-dasharray": "6 4" });
  const place = { x: right - 4, y: at - top > 18 ? at - 4 : at + 13, "text-anchor": "end" };
  draw(svg, "text", { ...place, class: "halo", style: `fill:${level.colour}` }, level.text);
}

function drawMark(svg, mark, k, frame, x) {
  const at = x(mark.x);
  const left = at > (frame.left + frame.right) / 2;
  upright(svg, at, frame, { stroke: mark.colour, "stroke-dasharray": "2 3" });
  const place = { x: left ? at - 5 : at + 5, y: frame.bottom - 8 - LABEL_GAP * k, ...flush(left) };
  draw(svg, "text", { ...place, class: "halo", style: `fill:${mark.colour}` }, mark.text);
}

/* text to the left of its place, or to the right */
function flush(left) {
  return { "text-anchor": left ? "end" : "start" };
}

function upright(svg, at, { top, bottom }, style) {
  draw(svg, "line", { x1: at, x2: at, y1: top, y2: bottom, stroke: "#1d2730", ...style });
}

function drawLabels(svg, labels, { right, top, bottom }, y) {
  const places = apart(labels.map((label) => y(label.y)), LABEL_GAP, top, bottom);
  labels.forEach((label, k) => {
    const tie = `M${right + 2} ${y(label.y)}L${right + 10} ${places[k]}h8`;
    draw(svg, "path", { d: tie, stroke: label.colour, "stroke-width": 2, fill: "none" });
    draw(svg, "text", { x: right + 21, y: places[k] + 4 }, label.text);
  });
}

function legend(labels, lines) {
  const list = element("ul", { class: "legend" });
  for (const label of [...labels].sort((a, b) => b.y - a.y)) {
    const line = lines.find((one) => one.colour === label.colour && label.text.startsWith(one.name)) || label;
    const key = draw(null, "svg", { viewBox: "0 0 30 10", "aria-hidden": "true" });
    const style = { stroke: label.colour, "stroke-width": 3, "stroke-dasharray": line.dash || "none" };
    draw(key, "line", { x1: 0, x2: 30, y1: 5, y2: 5, ...style });
    list.append(element("li", {}, key, label.text));
  }
  return list;
}

/* the curve nearest to the pointer tells its name and value */
function followPointer(svg, chart, frame, x, y) {
  const dot = draw(svg, "circle", { r: 4, fill: "#fff", "stroke-width": 2, visibility: "hidden" });
  const text = draw(svg, "text", { class: "halo", visibility: "hidden" });
  svg.addEventListener("pointermove", (event) => {
    const bounds = svg.getBoundingClientRect();
    const zoom = frame.width / bounds.width;
    const value = x.back((event.clientX - bounds.left) * zoom);
    const near = x.holds(value) && nearestCurve(chart, value, (event.clientY - bounds.top) * zoom, y);
    if (!near) return;
    const [across, up] = [x(value), y(near.y)];
    const left = across > (frame.left + frame.right) / 2;
    set(dot, { cx: across, cy: up, stroke: near.line.colour, visibility: "visible" });
    const place = { x: across + (left ? -9 : 9), y: Math.max(up - 9, frame.top), ...flush(left) };
    set(text, { ...place, visibility: "visible" });
    text.textContent = `${near.line.name} ${number(near.y)} at ${number(value)}`;
  });
  svg.addEventListener("pointerleave", () => { for (const one of [dot, text]) set(one, { visibility: "hidden" }); });
}

function nearestCurve(chart, value, height, y) {
  let near = null;
  for (const line of chart.lines) {
    const here = value > line.x[line.x.length - 1] ? null : valueAt(line, value);
    if (here === null) continue;
    const off = Math.abs(y(here) - height);
    if (!near || off < near.off) near = { off, y: here, line };
  }
  return near;
}

/* charts that stand alone: <figure class="chart" data-chart="name"> */
function drawStandingCharts() {
  for (const box of document.querySelectorAll("[data-chart]")) {
    const draw = () => drawStanding(box);
    drawWhenWide(box, draw);
    const choice = byId(box.dataset.choice);
    if (!choice) continue;
    const entitle = () => {
      const [chosen] = choice.selectedOptions;
      byId(box.dataset.title).textContent = `${chosen.parentElement.label}: ${chosen.text}, temperatures after`;
    };
    entitle();
    choice.addEventListener("change", () => { box.dataset.chart = choice.value; entitle(); draw(); });
  }
}

function drawStanding(box) {
  drawChart(box, data.charts[box.dataset.chart]);
}

/* draw now and whenever the width changes */
function drawWhenWide(box, draw) {
  let width = 0;
  new ResizeObserver(() => {
    if (box.clientWidth && box.clientWidth !== width) { width = box.clientWidth; draw(); }
  }).observe(box);
}

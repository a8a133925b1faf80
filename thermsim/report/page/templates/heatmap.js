/* Temperature maps on a canvas: packed fields, plan drawings in mm, a readout under the pointer. */

const unpacked = new Map();

/* steps above the lowest temperature, plus one; 0 where there is no cell; shape (frames, rows, columns) */
async function unpack(field) {
  if (unpacked.has(field)) return unpacked.get(field);
  const packed = Uint8Array.from(atob(field.data), (letter) => letter.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  const halves = new Uint8Array(await new Response(stream).arrayBuffer());
  const [count, columns] = [halves.length / 2, field.x_mm.length - 1];
  const frame = columns * (field.y_mm.length - 1);
  const values = new Uint16Array(count);
  for (let k = 0; k < count; k += 1) {
    values[k] = halves[k] | (halves[count + k] << 8);
    if (k % columns) values[k] += values[k - 1];
  }
  for (let k = frame; k < count; k += 1) values[k] += values[k - frame];
  unpacked.set(field, values);
  return values;
}

/* A plan in mm on a canvas, y upwards; crisp on any screen. */
class Plan {
  constructor(canvas, [x0, y0, x1, y1]) {
    this.canvas = canvas;
    this.width = Math.max(canvas.clientWidth, 200);
    this.zoom = this.width / (x1 - x0);
    this.height = Math.max(Math.round(this.zoom * (y1 - y0)), 40);
    [this.x0, this.y0, this.x1, this.y1] = [x0, y0, x1, y1];
    const dots = window.devicePixelRatio || 1;
    canvas.width = Math.round(this.width * dots);
    canvas.height = Math.round(this.height * dots);
    canvas.style.aspectRatio = `${this.width} / ${this.height}`;
    this.labels = [];
    this.pen = canvas.getContext("2d");
    this.pen.setTransform(dots, 0, 0, dots, 0, 0);
  }

  px(x) { return (x - this.x0) * this.zoom; }
  py(y) { return (this.y1 - y) * this.zoom; }

  /* place in mm of a pointer's event */
  at(event) {
    const bounds = this.canvas.getBoundingClientRect();
    const zoom = bounds.width / (this.x1 - this.x0);
    return [this.x0 + (event.clientX - bounds.left) / zoom, this.y1 - (event.clientY - bounds.top) / zoom];
  }

  box([x0, y0, x1, y1], { line = "#fff", halo = "rgba(0,0,0,.75)", dash = [], fill = null, width = 1.2 } = {}) {
    const { pen } = this;
    const rect = [this.px(x0), this.py(y1), (x1 - x0) * this.zoom, (y1 - y0) * this.zoom];
    if (fill) { pen.fillStyle = fill; pen.fillRect(...rect); }
    if (halo) { pen.setLineDash([]); pen.strokeStyle = halo; pen.lineWidth = width + 1.6; pen.strokeRect(...rect); }
    if (line) { pen.setLineDash(dash); pen.strokeStyle = line; pen.lineWidth = width; pen.strokeRect(...rect); }
    pen.setLineDash([]);
  }

  path(points, { line, width, dash = [] }) {
    const { pen } = this;
    pen.beginPath();
    points.forEach(([x, y], k) => (k ? pen.lineTo(this.px(x), this.py(y)) : pen.moveTo(this.px(x), this.py(y))));
    pen.setLineDash(dash);
    pen.lineJoin = "round";
    pen.lineWidth = width;
    pen.strokeStyle = line;
    pen.stroke();
    pen.setLineDash([]);
  }

  /* text with a rim about a place in mm; left out, and false, where it would touch another or the rim */
  label(text, [x, y], size, [ink, rim] = ["#fff", "rgba(0,0,0,.8)"]) {
    const { pen } = this;
    pen.font = `600 ${size}px system-ui, "Liberation Sans", sans-serif`;
    const half = pen.measureText(text).width / 2 + 1;
    const box = [this.px(x) - half, this.py(y) - size / 2, this.px(x) + half, this.py(y) + size / 2];
    if (box[0] < 0 || box[1] < 0 || box[2] > this.width || box[3] > this.height) return false;
    const touches = (one) => box[0] < one[2] && box[2] > one[0] && box[1] < one[3] && box[3] > one[1];
    if (this.labels.some(touches)) return false;
    this.labels.push(box);
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    this.text(text, this.px(x), this.py(y), ink, rim);
    return true;
  }

  /* × at a place in mm, which labels then leave free */
  spot([x, y]) {
    const { pen } = this;
    pen.font = "700 13px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    this.text("×", this.px(x), this.py(y), "#fff", "rgba(0,0,0,.8)");
    this.labels.push([this.px(x) - 4, this.py(y) - 4, this.px(x) + 4, this.py(y) + 4]);
  }

  text(text, x, y, ink, rim) {
    const { pen } = this;
    pen.lineWidth = 3;
    pen.lineJoin = "round";
    pen.strokeStyle = rim;
    pen.fillStyle = ink;
    pen.strokeText(text, x, y);
    pen.fillText(text, x, y);
  }

  cross([x, y]) {
    const { pen } = this;
    for (const [colour, width] of [["rgba(0,0,0,.8)", 3], ["#fff", 1.2]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.beginPath();
      pen.moveTo(this.px(x), 0); pen.lineTo(this.px(x), this.height);
      pen.moveTo(0, this.py(y)); pen.lineTo(this.width, this.py(y));
      pen.stroke();
    }
  }
}

/* One sheet at one time. `scale`: ends in °C. */
class HeatMap {
  constructor(canvas, tell) {
    this.canvas = canvas;
    this.tell = tell;
    this.spot = null; // mm
    canvas.addEventListener("pointermove", (event) => { if (this.plan) this.point(this.plan.at(event)); });
    canvas.addEventListener("pointerdown", (event) => { if (this.plan) this.point(this.plan.at(event)); });
    canvas.addEventListener("keydown", (event) => this.key(event));
  }

  async show(field, seconds, scale, partNow, sheet) {
    const values = await unpack(field);
    Object.assign(this, { field, scale, partNow, sheet, values, frame: nearest(field.time_s, seconds) });
    this.draw();
  }

  degc(row, column) {
    const { field, values, frame } = this;
    const columns = field.x_mm.length - 1;
    const steps = values[(frame * (field.y_mm.length - 1) + row) * columns + column];
    return steps === 0 ? null : field.low_degc + (steps - 1) * data.views.step_k;
  }

  draw() {
    const { field, scale } = this;
    const [xs, ys] = [field.x_mm, field.y_mm];
    const plan = new Plan(this.canvas, [xs[0], ys[0], xs[xs.length - 1], ys[ys.length - 1]]);
    this.plan = plan;
    this.hottest = null;
    plan.pen.fillStyle = "#e6e9eb";
    plan.pen.fillRect(0, 0, plan.width, plan.height);
    for (let row = 0; row < ys.length - 1; row += 1) {
      const [top, bottom] = [Math.floor(plan.py(ys[row + 1])), Math.ceil(plan.py(ys[row]))];
      for (let column = 0; column < xs.length - 1; column += 1) {
        const degc = this.degc(row, column);
        if (degc === null) continue;
        if (!this.hottest || degc > this.hottest.degc) this.hottest = { degc, row, column };
        plan.pen.fillStyle = colourAt(data.colours, (degc - scale[0]) / (scale[1] - scale[0]));
        const [left, right] = [Math.floor(plan.px(xs[column])), Math.ceil(plan.px(xs[column + 1]))];
        plan.pen.fillRect(left, top, right - left, bottom - top);
      }
    }
    if (this.hottest) {
      const { row, column } = this.hottest;
      Object.assign(this.hottest, { x: (xs[column] + xs[column + 1]) / 2, y: (ys[row] + ys[row + 1]) / 2 });
    }
    this.overlay();
    if (this.spot) plan.cross(this.spot);
    this.report();
  }

  overlay() {
    const { plan, field } = this;
    for (const plate of field.plates) {
      plan.path(plate.path, { line: "rgba(16,34,44,.7)", width: plate.over ? 2.2 : 5 });
      plan.path(plate.path, { line: plate.over ? "rgba(88,208,255,.65)" : "#58d0ff", width: plate.over ? 1.1 : 3 });
      if (plate.over) plan.box(plate.rect, { line: "#58d0ff", dash: [2, 3] });
    }
    for (const part of field.parts) plan.box(part.rect, { dash: part.joined ? [5, 3] : [] });
    const size = plan.width < 420 ? 9 : 11;
    const middle = ({ rect: [x0, y0, x1, y1] }) => [(x0 + x1) / 2, (y0 + y1) / 2];
    if (this.hottest) plan.spot([this.hottest.x, this.hottest.y]);
    const line = (size / 2 + 3) / plan.zoom;
    for (const part of field.parts) {
      const now = this.partNow(part.name);
      const wide = (part.rect[2] - part.rect[0]) * plan.zoom;
      if (now === null || wide <= 1.3 * size) continue;
      const [x, y] = middle(part);
      [0, 1, -1].some((k) => plan.label(number(now, 0), [x, y + 2 * k * line], size));
    }
    for (const part of [...field.parts].sort((a, b) => b.rect[2] - b.rect[0] - a.rect[2] + a.rect[0])) {
      const x = middle(part)[0];
      plan.label(part.name, [x, part.rect[3] + line], size) || plan.label(part.name, [x, part.rect[1] - line], size);
    }
  }

  point([x, y]) {
    const { plan } = this;
    this.spot = [Math.min(Math.max(x, plan.x0), plan.x1), Math.min(Math.max(y, plan.y0), plan.y1)];
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => { this.waiting = false; this.draw(); });
  }

  key(event) {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (!way || !this.plan) return;
    event.preventDefault();
    const { plan, field } = this;
    const step = ((plan.x1 - plan.x0) / (field.x_mm.length - 1)) * (event.shiftKey ? 5 : 1);
    const [x, y] = this.spot || [(plan.x0 + plan.x1) / 2, (plan.y0 + plan.y1) / 2];
    this.point([x + way[0] * step, y + way[1] * step]);
  }

  /* a part may be hotter than the sheet under it: the hottest, by itself */
  hottestPart() {
    const told = this.field.parts.map(({ name }) => [this.partNow(name), name]).filter(([degc]) => degc !== null);
    if (!told.length) return "";
    const [degc, name] = told.reduce((one, other) => (other[0] > one[0] ? other : one));
    return `; hottest part ${name}, itself ${number(degc)} °C`;
  }

  /* what is under the crosshair, or the hottest cell */
  report() {
    const { field, hottest } = this;
    const where = hottest ? `x ${number(hottest.x, 0)}, y ${number(hottest.y, 0)} mm` : "";
    const most = hottest ? `Hottest cell of ${this.sheet} × ${number(hottest.degc)} °C at ${where}${this.hottestPart()}.` : "";
    if (!this.spot) { this.tell(most); return; }
    const [x, y] = this.spot;
    const column = Math.min(Math.max(field.x_mm.findIndex((edge) => edge > x) - 1, 0), field.x_mm.length - 2);
    const row = Math.min(Math.max(field.y_mm.findIndex((edge) => edge > y) - 1, 0), field.y_mm.length - 2);
    const degc = this.degc(row, column);
    const here = field.parts.filter(({ rect }) => x >= rect[0] && x <= rect[2] && y >= rect[1] && y <= rect[3]);
    const parts = here.map((part) => {
      const now = this.partNow(part.name);
      return `; ${part.name}${now === null ? "" : ` itself ${number(now)} °C`}`;
    });
    const sheet = degc === null ? "nothing here" : `${number(degc)} °C`;
    this.tell(`x ${number(x, 0)}, y ${number(y, 0)} mm: ${sheet}${parts.join("")}. ${most}`);
  }
}

function nearest(list, value) {
  let best = 0;
  list.forEach((other, k) => { if (Math.abs(other - value) < Math.abs(list[best] - value)) best = k; });
  return best;
}

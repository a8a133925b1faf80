/* Where a plate may lie and what it is worth there: click or arrow to a position, read its numbers. */

class Placement {
  constructor(root, told) {
    this.root = root;
    this.told = told;
    this.canvas = root.querySelector("canvas");
    this.rotation = told.positions[told.best].rotation_deg;
    this.at = told.best;
    this.canvas.addEventListener("click", (event) => this.choose(this.nearestTo(this.plan.at(event))));
    this.canvas.addEventListener("keydown", (event) => this.key(event));
    this.radios = [...root.querySelectorAll("[name=rotation]")];
    for (const radio of this.radios) {
      radio.checked = Number(radio.value) === this.rotation;
      radio.addEventListener("change", () => this.turn(Number(radio.value)));
    }
    for (const button of document.querySelectorAll("#place [data-position], #place [data-pair]")) {
      const { position, pair } = button.dataset;
      button.addEventListener("click", () => (pair ? this.choosePair(pair) : this.choose(Number(position))));
    }
    drawWhenWide(this.canvas.parentElement, () => this.draw());
    this.tell();
  }

  /* corners of the plate at a position, mm */
  outline(position) {
    const [w, d] = position.rotation_deg % 180 ? [...this.told.plate_size_mm].reverse() : this.told.plate_size_mm;
    return [position.x_mm, position.y_mm, position.x_mm + w, position.y_mm + d];
  }

  centre(position) {
    const [x0, y0, x1, y1] = this.outline(position);
    return [(x0 + x1) / 2, (y0 + y1) / 2];
  }

  nearestTo([x, y], keep = () => true) {
    let best = this.at;
    let least = Infinity;
    this.told.positions.forEach((position, k) => {
      if (position.rotation_deg !== this.rotation || !keep(position)) return;
      const [cx, cy] = this.centre(position);
      const off = Math.hypot(cx - x, cy - y);
      if (off < least) [best, least] = [k, off];
    });
    return best;
  }

  key(event) {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (!way) return;
    event.preventDefault();
    const [x, y] = this.centre(this.told.positions[this.at]);
    const ahead = (position) => {
      const [cx, cy] = this.centre(position);
      const along = (cx - x) * way[0] + (cy - y) * way[1];
      const aside = Math.abs((cx - x) * way[1]) + Math.abs((cy - y) * way[0]);
      return along > 1e-6 && aside < 1e-6;
    };
    this.choose(this.nearestTo([x, y], ahead));
  }

  turn(rotation) {
    const [x, y] = this.centre(this.told.positions[this.at]);
    this.rotation = rotation;
    this.choose(this.nearestTo([x, y]));
  }

  /* two plates at once, as the study found them best */
  choosePair(name) {
    const { first } = this.told.pairs[name];
    const same = (one) => ["x_mm", "y_mm", "rotation_deg"].every((key) => one[key] === first[key]);
    this.choose(Math.max(this.told.positions.findIndex(same), 0), { name, ...this.told.pairs[name] });
  }

  choose(index, pair = null) {
    this.at = index;
    this.pair = pair;
    this.rotation = this.told.positions[index].rotation_deg;
    for (const radio of this.radios) radio.checked = Number(radio.value) === this.rotation;
    this.draw();
    this.tell();
  }

  draw() {
    const { told } = this;
    const [[x, y], [w, d]] = [told.sheet.corner_mm, told.sheet.size_mm];
    const [[left, front], [wide, deep]] = [told.box.corner_mm, told.box.size_mm];
    const plan = new Plan(this.canvas, [left - 2, front - 2, left + wide + 2, front + deep + 2]);
    this.plan = plan;
    plan.pen.fillStyle = "#fff";
    plan.pen.fillRect(0, 0, plan.width, plan.height);
    plan.box([left, front, left + wide, front + deep], { line: "#9aa3a9", halo: null });
    plan.box([x, y, x + w, y + d], { line: "#4c5861", halo: null, fill: "#f2f5f6" });
    const half = told.pitch_mm / 2;
    const [low, high] = told.scale;
    for (const position of told.positions) {
      if (position.rotation_deg !== this.rotation) continue;
      const [cx, cy] = this.centre(position);
      const cell = [cx - half, cy - half, cx + half, cy + half];
      const share = (position.worst_margin_k - low) / (high - low || 1);
      const shade = position.allowed ? colourAt(told.colours, share) : "#c3c9cd";
      plan.box(cell, { line: null, halo: null, fill: shade });
      if (!position.allowed) plan.path([[cell[0], cell[1]], [cell[2], cell[3]]], { line: "#7d878e", width: 1 });
    }
    this.drawBoard(plan);
    const chosen = told.positions[this.at];
    this.drawPlate(plan, chosen);
    const style = chosen.allowed ? { line: "#0b4f8a" } : { line: "#a02814", dash: [6, 4] };
    plan.box(this.outline(chosen), { halo: "#fff", width: 2.5, ...style });
    const [cx, cy] = this.centre(chosen);
    plan.box([cx - half, cy - half, cx + half, cy + half], { line: "#1d2730", halo: "#fff", width: 2 });
  }

  /* channel and hoses, where they are known, and the second plate of a pair */
  drawPlate(plan, chosen) {
    const { told } = this;
    if (this.pair) {
      const { x_mm: x, y_mm: y, outline_mm: [w, d] } = this.pair.second;
      plan.box([x, y, x + w, y + d], { line: "#0b4f8a", halo: "#fff", width: 2.5 });
      return;
    }
    if (this.at === told.best) plan.path(told.channel, { line: "#0b6a94", width: 2 });
    for (const { corner_mm: [x, y], size_mm: [w, d] } of told.hoses[this.at] || []) {
      plan.box([x, y, x + w, y + d], { line: "#0b4f8a", halo: "#fff", dash: [2, 3] });
    }
  }

  drawBoard(plan) {
    const { told } = this;
    const plates = this.pair ? [this.pair.first, this.pair.second] : [told.positions[this.at]];
    const covered = plates.flatMap((plate) => plate.covered);
    for (const part of told.parts) {
      const [[px, py], [w, d]] = [part.corner_mm, part.size_mm];
      const width = covered.includes(part.name) ? 2.4 : 1;
      plan.box([px, py, px + w, py + d], { line: "#1d2730", halo: "rgba(255,255,255,.7)", width });
    }
    const names = [...told.parts].sort((a, b) => b.size_mm[0] - a.size_mm[0]);
    for (const { name, corner_mm: [px, py], size_mm: [w, d] } of names) {
      const size = plan.width < 420 ? 9 : 11;
      const line = (size / 2 + 2) / plan.zoom;
      const colours = ["#1d2730", "rgba(255,255,255,.85)"];
      const label = (y) => plan.label(plainName(name), [px + w / 2, y], size, colours);
      label(py + d + line) || label(py - line);
    }
    for (const keep of told.keep_outs) {
      const [[px, py], [w, d]] = [keep.corner_mm, keep.size_mm];
      plan.box([px, py, px + w, py + d], { line: "#a02814", halo: "#fff", dash: [3, 3], width: 1.6 });
    }
    for (const screw of told.screws) {
      const { pen } = plan;
      pen.beginPath();
      const [sx, sy] = screw.at_mm;
      pen.arc(plan.px(sx), plan.py(sy), Math.max((screw.ring_mm / 2) * plan.zoom, 2.5), 0, 2 * Math.PI);
      pen.strokeStyle = "#a02814";
      pen.lineWidth = 1.4;
      pen.stroke();
    }
  }

  /* the numbers of the chosen position or pair, as the study stored them */
  tell() {
    const rows = this.pair ? this.pairRows() : this.rows();
    const pairs = rows.flatMap(([name, value]) => [element("dt", {}, name), element("dd", {}, value)]);
    byId("place-readout").replaceChildren(...pairs);
  }

  rows() {
    const position = this.told.positions[this.at];
    const rows = [["corner", spotText(position)]];
    if (!position.allowed) return [...rows, ["allowed", `no: ${position.why.map(plainName).join("; ")}`]];
    return [
      ...rows,
      ["allowed", "yes"],
      ["worst margin", `${number(position.worst_margin_k)} K (${plainName(position.worst_part)})`],
      ["touches", position.covered.map(plainName).join(", ") || "no part"],
      ["coolant", `${number(position.flow_l_per_min, 2)} L/min`],
      ["drop in plate", `${number(position.drop_kpa)} kPa`],
      ["plate, mean", `${number(position.plate_mean_degc)} °C`],
      ["parts, °C", partsText(position.parts_degc)],
    ];
  }

  pairRows() {
    const { pair } = this;
    return [
      ["two plates", `in ${pair.name}`],
      ["first", `${spotText(pair.first)}; touches ${pair.first.covered.map(plainName).join(", ")}`],
      ["second", `${spotText(pair.second)}; touches ${pair.second.covered.map(plainName).join(", ")}`],
      ["worst margin", `${number(pair.exact_worst_margin_k)} K (${plainName(pair.exact_worst_part)})`],
      ["coolant", `${number(pair.flow_l_per_min, 2)} L/min at ${number(pair.loop_drop_kpa)} kPa`],
      ["parts, °C", partsText(pair.parts_degc)],
    ];
  }
}

function spotText(spot) {
  const turned = spot.rotation_deg ? `, turned ${spot.rotation_deg}°` : "";
  return `x ${number(spot.x_mm, 0)}, y ${number(spot.y_mm, 0)} mm${turned}`;
}

function partsText(parts) {
  return Object.entries(parts).map(([name, degc]) => `${plainName(name)} ${number(degc)}`).join(", ");
}

function plainName(name) {
  return name === null ? "no limit" : name.replaceAll("_", " ");
}

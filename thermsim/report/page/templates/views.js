/* Two options side by side: the same sheet at the same time on the same scales. */

class View {
  constructor(root, name, shared) {
    this.shared = shared;
    this.root = root;
    this.choice = root.querySelector("select");
    this.choice.value = name;
    this.canvas = root.querySelector("canvas");
    this.readout = root.querySelector("output");
    this.missing = root.querySelector(".missing");
    this.map = new HeatMap(this.canvas, (text) => { this.readout.textContent = text; });
    this.choice.addEventListener("change", () => shared.changed());
    this.machinery = root.querySelector(".machinery");
    this.machinery.open = window.innerWidth > 900;
    this.machinery.addEventListener("toggle", () => this.drawMachinery());
  }

  get name() { return this.choice.value; }
  get option() { return data.views.options[this.name]; }
  get field() { return this.option.sheets[this.shared.sheet]; }

  async show() {
    const { field, shared, option } = this;
    this.root.querySelector(".note").textContent = option.note;
    this.canvas.hidden = !field;
    this.readout.hidden = !field;
    this.missing.hidden = Boolean(field);
    const partNow = (name) => {
      const line = option.warm_up.lines.find((one) => one.name === name);
      return line ? valueAt(line, shared.seconds / 60) : null;
    };
    const sheet = data.views.sheets[shared.sheet] ?? "sheet to map";
    if (field) await this.map.show(field, shared.seconds, data.views.scales[option.kind], partNow, sheet);
    else this.missing.textContent = `“${this.name}” has no ${sheet}.`;
    const what = `${this.name}, ${sheet}, ${clock(shared.seconds)}`;
    this.root.querySelector(".in-print").textContent = `${what} after switch-on`;
    this.canvas.setAttribute("aria-label", `Temperature map, ${what}. Arrow keys move the crosshair.`);
  }

  drawCharts(range) {
    const cursor = this.shared.seconds / 60;
    drawChart(this.root.querySelector(".warm-up"), this.option.warm_up, { range, cursor });
    this.drawMachinery();
  }

  drawMachinery() {
    if (!this.machinery.open) return;
    const cursor = this.shared.seconds / 60;
    const charts = this.option.control.map((chart) => [element("div", { class: "chart" }), chart]);
    this.root.querySelector(".control").replaceChildren(...charts.map(([figure]) => figure));
    for (const [figure, chart] of charts) drawChart(figure, chart, { cursor, height: 150 });
  }
}

class Views {
  constructor(root) {
    this.root = root;
    this.slider = byId("time");
    this.clock = byId("clock");
    this.play = byId("play");
    this.sheet = Object.keys(data.views.sheets)[0];
    this.seconds = 0;
    this.views = [...root.querySelectorAll(".view")].map((one, k) => new View(one, data.views.shown[k], this));
    for (const radio of root.querySelectorAll("[name=sheet]")) {
      radio.addEventListener("change", () => { this.sheet = radio.value; this.changed(); });
    }
    this.slider.addEventListener("input", () => this.seek(Number(this.slider.value)));
    this.play.addEventListener("click", () => this.run());
    const part = byId("part");
    if (part) {
      part.addEventListener("change", () => this.drawPart());
      drawWhenWide(byId("part-chart"), () => this.drawPart());
    }
    this.seconds = Infinity;
    this.changed();
    drawWhenWide(this.views[0].canvas.parentElement, () => this.draw());
  }

  /* another option or sheet: the times there are, the nearest to where the slider stood */
  changed() {
    const times = this.views.flatMap((view) => view.field?.time_s || []);
    const other = (view) => Object.values(view.option.sheets)[0]?.time_s || [];
    this.times = [...new Set(times.length ? times : this.views.flatMap(other))].sort((a, b) => a - b);
    if (!this.times.length) this.times = [0];
    this.slider.max = this.times.length - 1;
    this.seek(nearest(this.times, Math.min(this.seconds, this.times[this.times.length - 1])));
  }

  seek(index) {
    this.seconds = this.times[index];
    this.slider.value = index;
    this.clock.textContent = `${clock(this.seconds)} after switch-on`;
    this.slider.setAttribute("aria-valuetext", this.clock.textContent);
    return this.draw();
  }

  async draw() {
    await Promise.all(this.views.map((view) => view.show()));
    const ranges = this.views.map((view) => chartRange(view.option.warm_up));
    const range = [Math.min(...ranges.map((one) => one[0])), Math.max(...ranges.map((one) => one[1]))];
    for (const view of this.views) view.drawCharts(range);
    this.drawScale();
  }

  /* the colour scale; where an option and a mishap stand side by side there are two */
  drawScale() {
    const kinds = [...new Set(this.views.map((view) => view.option.kind))];
    byId("scales").replaceChildren(...kinds.map((kind) => {
      const [low, high] = data.views.scales[kind];
      const bar = element("div", { style: `background:linear-gradient(to right,${data.colours.join(",")})` });
      const values = [0, 1, 2, 3, 4].map((k) => element("li", {}, number(low + ((high - low) * k) / 4)));
      const ends = element("ol", {}, ...values);
      return element("div", { class: "scale" }, `°C, one scale for all ${kind}`, bar, ends);
    }));
  }

  drawPart() {
    byId("part-chart-title").textContent = byId("part").value;
    drawChart(byId("part-chart"), data.views.part_charts[byId("part").value]);
  }

  run() {
    if (this.timer) { this.halt(); return; }
    let at = Number(this.slider.value) >= this.times.length - 1 ? 0 : Number(this.slider.value);
    this.play.textContent = "Pause";
    this.timer = setInterval(() => {
      if (at >= this.times.length) { this.halt(); return; }
      this.seek(at);
      at += 1;
    }, 350);
  }

  halt() {
    clearInterval(this.timer);
    this.timer = null;
    this.play.textContent = "Play";
  }
}

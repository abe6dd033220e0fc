// A canvas in millimetres: zoom, pan, ruler, the pointer's place, mouse, touch and keys.

const LEAST = 0.02;
const MOST = 60;

/** Room the rulers take at the left and the top, and left free all round when all is shown, pixels. */
const RULER = [34, 17];
const PAD = 26;

/**
 * @typedef {object} Tool what is done with the pointer; every place in millimetres, y up
 * @property {(p: [number, number], event: PointerEvent) => boolean} [down] true when it takes the pointer
 * @property {(p: [number, number], event: PointerEvent) => void} [drag]
 * @property {(p: [number, number], event: PointerEvent) => void} [up]
 * @property {(p: [number, number]) => void} [hover]
 */

/** A look at a plane of millimetres. */
export class View {
  /**
   * @param {HTMLCanvasElement} canvas
   * @param {(g: CanvasRenderingContext2D, view: View) => void} draw called with the canvas in millimetres, y up
   * @param {HTMLElement} [where] where the pointer's place is told
   */
  constructor(canvas, draw, where) {
    Object.assign(this, { canvas, draw, where, scale: 1, x: 0, y: 0, mirrored: false, tool: {}, still: 0 });
    this.g = canvas.getContext('2d');
    this.pointers = new Map();
    this.dark = () => document.documentElement.dataset.light === 'dark';
    this.sizes = new ResizeObserver(() => this.resized());
    this.sizes.observe(canvas);
    const on = (name, done, options) => canvas.addEventListener(name, done, options);
    on('pointerdown', (e) => this.down(e));
    on('pointermove', (e) => this.move(e));
    on('pointerup', (e) => this.up(e));
    on('pointercancel', (e) => this.up(e));
    on('wheel', (e) => { e.preventDefault(); this.zoom(Math.exp(-e.deltaY / 500), e.offsetX, e.offsetY); }, { passive: false });
  }

  /** Ends all watching. */
  close() {
    this.sizes.disconnect();
    cancelAnimationFrame(this.frame);
  }

  resized() {
    const { width, height } = this.canvas.getBoundingClientRect();
    if (!width || !height) return;
    this.dots = window.devicePixelRatio || 1;
    this.canvas.width = Math.round(width * this.dots);
    this.canvas.height = Math.round(height * this.dots);
    if (this.box) this.fit(this.box); else this.changed();
  }

  /** Shows a box: least x, least y, greatest x, greatest y. @param {number[]} box */
  fit(box) {
    if (!this.moved) this.box = box;
    const { width, height } = this.canvas.getBoundingClientRect();
    const [w, t] = [Math.max(box[2] - box[0], 1), Math.max(box[3] - box[1], 1)];
    this.scale = Math.min(MOST, Math.max(LEAST, Math.min((width - RULER[0] - 2 * PAD) / w, (height - RULER[1] - 2 * PAD) / t)));
    const [mx, my] = [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2];
    this.x = (width + RULER[0]) / 2 - this.side() * mx * this.scale;
    this.y = (height + RULER[1]) / 2 + my * this.scale;
    this.changed();
  }

  side() { return this.mirrored ? -1 : 1; }

  /** Shows the other side of the cloth. @param {boolean} mirrored */
  mirror(mirrored) {
    const middle = this.toMm([this.canvas.clientWidth / 2, 0]);
    this.mirrored = mirrored;
    this.x = this.canvas.clientWidth / 2 - this.side() * middle[0] * this.scale;
    this.changed();
  }

  /** @param {number} by @param {number} [px] @param {number} [py] */
  zoom(by, px = this.canvas.clientWidth / 2, py = this.canvas.clientHeight / 2) {
    const scale = Math.min(MOST, Math.max(LEAST, this.scale * by));
    const held = scale / this.scale;
    this.x = px - (px - this.x) * held;
    this.y = py - (py - this.y) * held;
    this.scale = scale;
    this.moved = true; this.box = null;
    this.changed();
  }

  /** @param {number} dx @param {number} dy in pixels of the page */
  pan(dx, dy) { this.x += dx; this.y += dy; this.moved = true; this.box = null; this.changed(); }

  /** @param {[number, number]} p pixels @returns {[number, number]} */
  toMm([px, py]) { return [(this.side() * (px - this.x)) / this.scale, (this.y - py) / this.scale]; }

  /** @param {[number, number]} p millimetres @returns {[number, number]} */
  toPx([x, y]) { return [this.x + this.side() * x * this.scale, this.y - y * this.scale]; }

  /** Where one has moved to, to be found again; null while all is shown. */
  kept() { return this.moved ? [this.scale, this.x, this.y] : null; }

  /** @param {number[]} look what `kept` gave */
  restore([scale, x, y]) { Object.assign(this, { scale, x, y, moved: true, box: null }); this.changed(); }

  /** So many pixels of the page in millimetres. @param {number} px */
  px(px) { return px / this.scale; }

  /** Sets a context to millimetres. @param {CanvasRenderingContext2D} g */
  inMm(g) {
    const d = this.dots ?? 1;
    g.setTransform(d * this.side() * this.scale, 0, 0, -d * this.scale, d * this.x, d * this.y);
  }

  /** Writes upright words at a place of the plane. */
  write(g, text, [x, y], { size = 13, align = 'center', colour = '#000', halo = null } = {}) {
    const [px, py] = this.toPx([x, y]);
    const d = this.dots ?? 1;
    g.save();
    g.setTransform(d, 0, 0, d, d * px, d * py);
    g.font = `600 ${size}px system-ui, sans-serif`;
    g.textAlign = align; g.textBaseline = 'middle';
    if (halo) { g.lineWidth = 4; g.lineJoin = 'round'; g.strokeStyle = halo; g.strokeText(text, 0, 0); }
    g.fillStyle = colour;
    g.fillText(text, 0, 0);
    g.restore();
  }

  /** Something of the view changed: all is drawn anew. */
  changed() {
    this.still += 1;
    // Where a millimetre lies on the screen, for whoever drives the page from outside.
    this.canvas.dataset.look = `${this.side() * this.scale} ${-this.scale} ${this.x} ${this.y}`;
    this.again();
  }

  /** Draws at the next frame. */
  again() {
    if (this.frame) return;
    this.frame = requestAnimationFrame(() => {
      this.frame = 0;
      const { g, canvas } = this;
      g.setTransform(1, 0, 0, 1, 0, 0);
      g.clearRect(0, 0, canvas.width, canvas.height);
      this.inMm(g);
      this.draw(g, this);
      this.ruler(g);
    });
  }

  ruler(g) {
    const d = this.dots ?? 1;
    const steps = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000];
    const step = steps.find((s) => s * this.scale >= 56) ?? 5000;
    const { clientWidth: w, clientHeight: t } = this.canvas;
    const [ink, paper] = this.dark() ? ['#c2bbab', 'rgba(38,36,31,.86)'] : ['#5a554a', 'rgba(255,253,248,.86)'];
    g.setTransform(d, 0, 0, d, 0, 0);
    g.fillStyle = paper; g.fillRect(0, 0, w, 17); g.fillRect(0, 17, 34, t);
    g.fillStyle = ink; g.strokeStyle = ink; g.lineWidth = 1; g.font = '11px system-ui, sans-serif'; g.textBaseline = 'middle';
    const [left, top] = this.toMm([0, 0]);
    const [right, low] = this.toMm([w, t]);
    g.beginPath(); g.textAlign = 'left';
    for (let v = Math.ceil(Math.min(left, right) / step) * step; v <= Math.max(left, right); v += step) {
      const x = Math.round(this.toPx([v, 0])[0]) + 0.5;
      if (x > 34) { g.moveTo(x, 0); g.lineTo(x, 17); g.fillText(String(v), x + 3, 8); }
    }
    for (let v = Math.ceil(low / step) * step; v <= top; v += step) {
      const y = Math.round(this.toPx([0, v])[1]) + 0.5;
      if (y > 22) { g.moveTo(0, y); g.lineTo(34, y); g.fillText(String(v), 2, y - 7); }
    }
    g.stroke();
  }

  at(e) { const b = this.canvas.getBoundingClientRect(); return [e.clientX - b.left, e.clientY - b.top]; }

  down(e) {
    this.canvas.setPointerCapture(e.pointerId);
    this.pointers.set(e.pointerId, this.at(e));
    if (this.pointers.size === 2) { this.tool.up?.(this.toMm(this.at(e)), e); this.held = 'two'; return; }
    this.held = e.button === 0 && this.tool.down?.(this.toMm(this.at(e)), e) ? 'tool' : 'pan';
  }

  move(e) {
    const now = this.at(e);
    const mm = this.toMm(now);
    if (this.where) this.where.textContent = `${mm[0].toFixed(1)}, ${mm[1].toFixed(1)} mm`;
    const before = this.pointers.get(e.pointerId);
    if (!before) { this.tool.hover?.(mm); return; }
    if (this.held === 'two') {
      const other = [...this.pointers].find(([id]) => id !== e.pointerId)?.[1];
      if (other) {
        const far = (p) => Math.hypot(p[0] - other[0], p[1] - other[1]);
        this.pan((now[0] - before[0]) / 2, (now[1] - before[1]) / 2);
        this.zoom(far(now) / Math.max(far(before), 1), other[0], other[1]);
      }
    } else if (this.held === 'tool') this.tool.drag?.(mm, e);
    else this.pan(now[0] - before[0], now[1] - before[1]);
    this.pointers.set(e.pointerId, now);
  }

  up(e) {
    if (!this.pointers.delete(e.pointerId)) return;
    if (this.held === 'tool') this.tool.up?.(this.toMm(this.at(e)), e);
    if (!this.pointers.size) this.held = null;
  }

  /** The keys that move the look: plus, minus, nought. True when it was one. @param {KeyboardEvent} e @param {number[]} whole */
  key(e, whole) {
    if (e.key === '+' || e.key === '=') this.zoom(1.25);
    else if (e.key === '-') this.zoom(0.8);
    else if (e.key === '0') { this.moved = false; this.fit(whole); }
    else return false;
    e.preventDefault();
    return true;
  }
}

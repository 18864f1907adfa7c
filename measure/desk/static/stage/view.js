// The view of the photo: where it lies under the window, and painting it so that handles and pixels agree.

import { TILE, Tiles } from "./tiles.js";

const FINEST = 64;

export class View {
  constructor(stage, canvas, moved) {
    Object.assign(this, { stage, canvas, moved });
    this.context = canvas.getContext("2d", { alpha: false });
    this.scale = 1;
    this.x = 0;
    this.y = 0;
    this.tiles = null;
    this.places = new Map();
    this.inset = { left: 0, top: 0, right: 0, bottom: 0 };
    this.sheet = { key: "", canvas: null };
    new ResizeObserver(() => this.resize()).observe(stage);
    this.resize();
  }

  resize() {
    const { width, height } = this.stage.getBoundingClientRect();
    // Phones show no more than 16.7 million pixels on one canvas.
    this.dpr = Math.min(devicePixelRatio || 1, Math.sqrt(16e6 / Math.max(1, width * height)), 2.5);
    const grown = width > 0 && !this.width;
    const middle = this.width
      ? [this.x + this.width / 2 / this.scale, this.y + this.height / 2 / this.scale]
      : null;
    this.width = width;
    this.height = height;
    this.canvas.width = Math.max(1, Math.round(width * this.dpr));
    this.canvas.height = Math.max(1, Math.round(height * this.dpr));
    if (this.fitted || grown) this.fit();
    else if (middle)
      [this.x, this.y] = [middle[0] - width / 2 / this.scale, middle[1] - height / 2 / this.scale];
    this.draw(true);
  }

  setPhoto(photo) {
    if (this.photo?.id === photo.id) {
      const { handle, stage, width } = photo;
      if (handle !== this.photo.handle || stage !== this.photo.stage || width !== this.photo.width) {
        this.tiles.update(photo);
        this.sheet.key = "";
        if (width !== this.photo.width) this.fit();
      }
      this.photo = photo;
      this.draw();
      return;
    }
    if (this.photo)
      this.places.set(this.photo.id, { x: this.x, y: this.y, scale: this.scale, fitted: this.fitted });
    this.tiles?.close();
    this.photo = photo;
    this.tiles = new Tiles(photo, (k, x, y) => this.arrived(k, x, y));
    this.sheet.key = "";
    const place = this.places.get(photo.id);
    if (place) Object.assign(this, place);
    else this.fit();
    this.draw(true);
  }

  // Another record has come on the desk, in which the same ids mean other photos.
  forget() {
    this.tiles?.close();
    this.tiles = this.photo = null;
    this.places.clear();
    this.sheet.key = "";
    this.draw(true);
  }

  fitScale() {
    const { left, right, top, bottom } = this.inset;
    return Math.min(
      (this.width - left - right) / this.photo.width,
      (this.height - top - bottom) / this.photo.height,
    );
  }

  fit() {
    if (!this.photo?.width || !this.width) return;
    const { left, right, top, bottom } = this.inset;
    this.scale = Math.max(1e-3, this.fitScale() * 0.98);
    this.x = this.photo.width / 2 - (this.width + left - right) / 2 / this.scale;
    this.y = this.photo.height / 2 - (this.height + top - bottom) / 2 / this.scale;
    this.fitted = true;
    this.draw(true);
  }

  // Show a rectangle of the photo, given as [x0, y0, x1, y1] in photo pixels.
  frame([x0, y0, x1, y1]) {
    const room = Math.min(this.width / (x1 - x0), this.height / (y1 - y0)) * 0.7;
    this.scale = Math.min(FINEST / this.dpr, Math.max(this.fitScale() / 2, room));
    this.x = (x0 + x1) / 2 - this.width / 2 / this.scale;
    this.y = (y0 + y1) / 2 - this.height / 2 / this.scale;
    this.fitted = false;
    this.draw(true);
  }

  toScreen([x, y]) {
    return [(x - this.x) * this.scale, (y - this.y) * this.scale];
  }
  toPhoto([x, y]) {
    return [x / this.scale + this.x, y / this.scale + this.y];
  }
  shows([x, y], margin = 24) {
    const [sx, sy] = this.toScreen([x, y]);
    return sx > margin && sy > margin && sx < this.width - margin && sy < this.height - margin;
  }

  clampPoint([x, y]) {
    return [Math.max(0, Math.min(this.photo.width, x)), Math.max(0, Math.min(this.photo.height, y))];
  }

  pan(dx, dy) {
    this.x -= dx / this.scale;
    this.y -= dy / this.scale;
    this.keepInSight();
    this.fitted = false;
    this.draw(true);
  }

  keepInSight() {
    const { width, height } = this.photo;
    const [mx, my] = [this.width / 2 / this.scale, this.height / 2 / this.scale];
    this.x = Math.max(-mx, Math.min(width - mx, this.x));
    this.y = Math.max(-my, Math.min(height - my, this.y));
  }

  zoom(factor, [sx, sy] = [this.width / 2, this.height / 2]) {
    if (!this.photo?.width) return;
    const [px, py] = this.toPhoto([sx, sy]);
    this.scale = Math.max(this.fitScale() / 2, Math.min(FINEST / this.dpr, this.scale * factor));
    this.x = px - sx / this.scale;
    this.y = py - sy / this.scale;
    this.keepInSight();
    this.fitted = false;
    this.draw(true);
  }

  // Make a photo point visible with as little movement as possible.
  reveal(point, margin = 40) {
    if (this.shows(point, margin)) return;
    const [sx, sy] = this.toScreen(point);
    const want = [
      Math.max(margin, Math.min(this.width - margin, sx)),
      Math.max(margin, Math.min(this.height - margin, sy)),
    ];
    this.pan(want[0] - sx, want[1] - sy);
  }

  // Paint in the next frame; `moved` when the view itself changed and the overlay must follow.
  draw(moved = false) {
    this.didMove ||= moved;
    if (this.frameAsked) return;
    this.frameAsked = true;
    requestAnimationFrame(() => {
      this.frameAsked = false;
      // Above fourfold the eye sees single pixels: let them fall on the screen's own.
      if (this.scale * this.dpr >= 4) {
        const step = this.scale * this.dpr;
        this.x = Math.round(this.x * step) / step;
        this.y = Math.round(this.y * step) / step;
      }
      this.paint();
      if (this.didMove) {
        this.didMove = false;
        this.moved();
      }
    });
  }

  paint() {
    const { context: c, canvas, dpr } = this;
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.fillStyle = this.ground ?? "#777";
    c.fillRect(0, 0, canvas.width, canvas.height);
    if (!this.photo?.width || !this.tiles) return;
    this.paintPart(c, canvas.width, canvas.height, this.x, this.y, this.scale * dpr, this.sheet);
  }

  range(level, x, y, width, height) {
    const step = TILE << level;
    const { tiles } = this;
    return {
      x0: Math.max(0, Math.floor(x / step)),
      y0: Math.max(0, Math.floor(y / step)),
      x1: Math.min(tiles.columns(level) - 1, Math.floor((x + width) / step)),
      y1: Math.min(tiles.rows(level) - 1, Math.floor((y + height) / step)),
    };
  }

  // Tiles are put together at whole pixels of their own level, then drawn once at the fractional place.
  paintPart(c, width, height, x, y, scale, sheet) {
    const level = this.tiles.level(scale);
    const range = this.range(level, x, y, width / scale, height / scale);
    if (range.x1 < range.x0 || range.y1 < range.y0) return;
    this.compose(sheet, level, range);
    this.tiles.want(level, range);
    const size = 2 ** level * scale;
    c.save();
    c.beginPath();
    c.rect(-x * scale, -y * scale, this.photo.width * scale, this.photo.height * scale);
    c.clip();
    c.imageSmoothingEnabled = size < 4;
    c.imageSmoothingQuality = "low";
    const left = (range.x0 * TILE * 2 ** level - x) * scale;
    const top = (range.y0 * TILE * 2 ** level - y) * scale;
    c.drawImage(sheet.canvas, 0, 0, sheet.w, sheet.h, left, top, sheet.w * size, sheet.h * size);
    c.restore();
  }

  compose(sheet, level, range) {
    const key = `${this.photo.id}:${level}:${range.x0}:${range.y0}:${range.x1}:${range.y1}`;
    if (sheet.key === key) return;
    Object.assign(sheet, {
      key,
      level,
      range,
      w: (range.x1 - range.x0 + 1) * TILE,
      h: (range.y1 - range.y0 + 1) * TILE,
    });
    if (!sheet.canvas || sheet.canvas.width < sheet.w || sheet.canvas.height < sheet.h) {
      sheet.canvas = new OffscreenCanvas(
        Math.max(sheet.w, sheet.canvas?.width ?? 0),
        Math.max(sheet.h, sheet.canvas?.height ?? 0),
      );
      sheet.context = sheet.canvas.getContext("2d", { alpha: false });
    }
    for (let ty = range.y0; ty <= range.y1; ty++) {
      for (let tx = range.x0; tx <= range.x1; tx++) this.placeTile(sheet, tx, ty);
    }
  }

  placeTile(sheet, tx, ty) {
    const { context: c, level, range } = sheet;
    const [dx, dy] = [(tx - range.x0) * TILE, (ty - range.y0) * TILE];
    for (let k = level; k <= this.tiles.top; k++) {
      const up = k - level;
      const tile = this.tiles.get(k, tx >> up, ty >> up);
      if (!tile) continue;
      const { bitmap } = tile;
      if (!up) {
        c.drawImage(bitmap, dx, dy);
        return;
      }
      const part = TILE >> up;
      const [sx, sy] = [(tx - ((tx >> up) << up)) * part, (ty - ((ty >> up) << up)) * part];
      const [w, h] = [Math.min(part, bitmap.width - sx), Math.min(part, bitmap.height - sy)];
      if (w > 0 && h > 0) c.drawImage(bitmap, sx, sy, w, h, dx, dy, w << up, h << up);
      return;
    }
    c.fillStyle = this.ground ?? "#777";
    c.fillRect(dx, dy, TILE, TILE);
  }

  arrived(k, x, y) {
    const { sheet } = this;
    this.onTile?.();
    if (sheet.key && k >= sheet.level) {
      const up = k - sheet.level;
      const { range } = sheet;
      for (let ty = Math.max(range.y0, y << up); ty <= Math.min(range.y1, ((y + 1) << up) - 1); ty++) {
        for (let tx = Math.max(range.x0, x << up); tx <= Math.min(range.x1, ((x + 1) << up) - 1); tx++)
          this.placeTile(sheet, tx, ty);
      }
    }
    this.draw();
  }
}

// The tiles of one photo, fetched when visible, with the coarse ones always available.

export const TILE = 512;
const COARSE = 3;

export class Tiles {
  constructor(photo, changed) {
    this.changed = changed;
    this.have = new Map();
    this.queue = [];
    this.flying = new Set();
    this.most = Math.min(
      72,
      24 + Math.ceil((screen.width * screen.height * devicePixelRatio ** 2) / TILE ** 2) * 3,
    );
    this.update(photo);
  }

  update(photo) {
    this.handle = photo.handle;
    this.width = photo.width;
    this.height = photo.height;
    this.finest = photo.stage === "ready" ? 0 : COARSE;
    this.top = Math.max(this.finest, Math.ceil(Math.log2(Math.max(photo.width, photo.height) / TILE)));
    this.loadable = photo.stage === "ready" || photo.stage === "preview";
    this.pinned = Math.max(Math.min(COARSE, this.top), this.top - 1);
  }

  columns(level) {
    return Math.ceil(this.width / (TILE << level));
  }
  rows(level) {
    return Math.ceil(this.height / (TILE << level));
  }

  // The level that suits this many device pixels per photo pixel.
  level(scale) {
    return Math.max(this.finest, Math.min(this.top, Math.floor(Math.log2(1 / scale) + 0.4)));
  }

  get(level, x, y) {
    const key = `${level}/${x}/${y}`;
    const tile = this.have.get(key);
    if (tile) {
      this.have.delete(key);
      this.have.set(key, tile);
    }
    return tile;
  }

  // Request what is missing, nearest to the middle first; earlier requests are dropped.
  want(level, range) {
    if (!this.loadable) return;
    const wanted = [];
    const middle = [(range.x0 + range.x1) / 2, (range.y0 + range.y1) / 2];
    const want = (k, x, y, rank) => {
      const key = `${k}/${x}/${y}`;
      if (this.have.get(key)?.handle !== this.handle && !this.flying.has(key + this.handle))
        wanted.push({ k, x, y, key, rank });
    };
    for (let y = 0; y < this.rows(this.pinned); y++)
      for (let x = 0; x < this.columns(this.pinned); x++) want(this.pinned, x, y, -1);
    for (let y = range.y0; y <= range.y1; y++) {
      for (let x = range.x0; x <= range.x1; x++) want(level, x, y, Math.hypot(x - middle[0], y - middle[1]));
    }
    this.queue = wanted.sort((a, b) => a.rank - b.rank);
    this.pump();
  }

  pump() {
    while (this.flying.size < 6 && this.queue.length) this.load(this.queue.shift());
  }

  async load({ k, x, y, key }) {
    const { handle } = this;
    this.flying.add(key + handle);
    try {
      const answer = await fetch(`/tile/${handle}/${k}/${x}/${y}`);
      if (answer.ok && handle === this.handle) {
        const bitmap = await createImageBitmap(await answer.blob());
        this.have.get(key)?.bitmap.close();
        this.have.delete(key);
        this.have.set(key, { bitmap, handle, k, x, y });
        this.evict();
        this.changed(k, x, y);
      }
    } catch {
      // The connection is down; the link reports it, and the next paint tries again.
    } finally {
      this.flying.delete(key + handle);
      this.pump();
    }
  }

  evict() {
    for (const [key, tile] of this.have) {
      if (this.have.size <= this.most) return;
      if (tile.k >= this.pinned) continue;
      tile.bitmap.close();
      this.have.delete(key);
    }
  }

  close() {
    for (const tile of this.have.values()) tile.bitmap.close();
    this.have.clear();
    this.queue = [];
  }
}

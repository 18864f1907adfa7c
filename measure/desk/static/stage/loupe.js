// A magnified view of the point being moved, painted by the same routine as the photo.

const SIZE = 148;

export class Loupe {
  constructor(canvas, view) {
    Object.assign(this, { canvas, view });
    this.context = canvas.getContext("2d", { alpha: false });
    this.sheet = { key: "", canvas: null };
  }

  // Show `point`; `finger` says that a fingertip hides what is under it.
  show(point, finger) {
    const { view, canvas } = this;
    const dpr = Math.min(devicePixelRatio || 1, 2.5);
    const side = Math.round(SIZE * dpr);
    if (canvas.width !== side) canvas.width = canvas.height = side;
    const scale = Math.max(4, Math.min(24, view.scale * 4)) * dpr;
    const c = this.context;
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.fillStyle = "#555";
    c.fillRect(0, 0, side, side);
    view.paintPart(
      c,
      side,
      side,
      point[0] - side / 2 / scale,
      point[1] - side / 2 / scale,
      scale,
      this.sheet,
    );
    this.cross(c, side, dpr);
    this.place(view.toScreen(point), finger);
    canvas.hidden = false;
  }

  // A cross with an open centre, dark under bright, so that it is visible on any photo and hides no important pixel.
  cross(c, side, dpr) {
    const [m, gap] = [side / 2, 9 * dpr];
    for (const [width, colour] of [
      [3 * dpr, "#0b1416"],
      [dpr, "#fff"],
    ]) {
      c.strokeStyle = colour;
      c.lineWidth = width;
      c.beginPath();
      for (const [dx, dy] of [
        [1, 0],
        [-1, 0],
        [0, 1],
        [0, -1],
      ]) {
        c.moveTo(m + dx * gap, m + dy * gap);
        c.lineTo(m + dx * m * 0.72, m + dy * m * 0.72);
      }
      c.stroke();
    }
    c.fillStyle = "#fff";
    c.fillRect(m - dpr / 2, m - dpr / 2, dpr, dpr);
  }

  // Never under the finger itself: the left edge of the loupe on the roomier side of it.
  beside(x, away) {
    const { width } = this.view;
    return x < width / 2 ? Math.min(width - SIZE - 6, x + away) : Math.max(6, x - away - SIZE);
  }

  place([x, y], finger) {
    const { width, height } = this.view;
    const away = finger ? 64 : 34;
    let left = finger ? x - SIZE / 2 : x + away;
    let top = y - SIZE - away;
    if (top < 6) top = y + away;
    if (top + SIZE > height - 6) {
      top = Math.max(6, height - SIZE - 6);
      left = x + away;
    }
    if (left + SIZE > width - 6) left = finger ? width - SIZE - 6 : x - away - SIZE;
    left = Math.max(6, left);
    const covered = y > top && y < top + SIZE && Math.abs(left + SIZE / 2 - x) < SIZE / 2 + 20;
    if (finger && covered) left = this.beside(x, away);
    this.canvas.style.transform = `translate(${left}px, ${top}px)`;
  }

  hide() {
    this.canvas.hidden = true;
  }
}

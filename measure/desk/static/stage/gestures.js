// Pointers on the stage: pan, pinch, wheel, a tap to place, a drag of a handle. Pointer events only, since the
// older mouse events carry whole numbers.

const STILL_PX = 5;

export class Gestures {
  // `acts`: tap(point, event), grab(handle) -> {point}, drag(point, pointerType), ahead(point), drop(cancelled),
  // hover(point)
  constructor(stage, view, acts) {
    Object.assign(this, { stage, view, acts });
    this.pointers = new Map();
    stage.addEventListener("pointerdown", (event) => this.down(event));
    stage.addEventListener("pointermove", (event) => this.move(event));
    this.ahead = (event) => this.aheadOfFrame(event);
    stage.addEventListener("pointerup", (event) => this.up(event));
    stage.addEventListener("pointercancel", (event) => this.up(event, true));
    stage.addEventListener("pointerleave", () => this.acts.hover(null));
    stage.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    stage.addEventListener("contextmenu", (event) => event.preventDefault());
  }

  at(event) {
    const box = this.stage.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  down(event) {
    if (event.button > 0 || event.target.closest("[data-still]")) return;
    if (!this.view.photo?.width) return;
    const at = this.at(event);
    this.stage.setPointerCapture(event.pointerId);
    this.pointers.set(event.pointerId, at);
    if (this.pointers.size > 1) {
      if (this.held) this.finish(true);
      this.start = null;
      return;
    }
    const handle = event.target.closest("[data-handle]");
    this.start = { at, moved: false, target: event.target };
    if (handle) {
      event.preventDefault();
      const point = this.acts.grab(handle);
      handle.focus({ preventScroll: true });
      // Drag by the difference, so that the point doesn't jump under the finger.
      const [px, py] = this.view.toScreen(point);
      this.held = { dx: px - at[0], dy: py - at[1] };
      this.stage.addEventListener("pointerrawupdate", this.ahead);
    }
  }

  heldPoint(at) {
    return this.view.toPhoto([at[0] + this.held.dx, at[1] + this.held.dy]);
  }

  // A browser reports moves once per frame; where it also reports them at once, the request is sent at once.
  aheadOfFrame(event) {
    if (this.held && this.start?.moved && this.pointers.size === 1)
      this.acts.ahead(this.heldPoint(this.at(event)));
  }

  move(event) {
    const at = this.at(event);
    const before = this.pointers.get(event.pointerId);
    if (!before) {
      if (event.pointerType === "mouse") this.acts.hover(at);
      return;
    }
    this.pointers.set(event.pointerId, at);
    if (this.pointers.size === 2) {
      this.pinch(event.pointerId, before, at);
      return;
    }
    if (!this.start) return;
    const far = Math.hypot(at[0] - this.start.at[0], at[1] - this.start.at[1]) > STILL_PX;
    if (this.held) this.dragHeld(at, far, event.pointerType);
    else if (this.start.moved || far) this.dragPhoto(before, at);
  }

  dragHeld(at, far, pointerType) {
    this.start.moved ||= far || pointerType === "mouse";
    if (this.start.moved) this.acts.drag(this.heldPoint(at), pointerType);
  }

  dragPhoto(before, at) {
    const from = this.start.moved ? before : this.start.at;
    this.view.pan(at[0] - from[0], at[1] - from[1]);
    this.start.moved = true;
    this.stage.classList.add("panning");
  }

  pinch(id, before, at) {
    const [other] = [...this.pointers].filter(([key]) => key !== id).map(([, point]) => point);
    const far = (a, b) => Math.max(1, Math.hypot(a[0] - b[0], a[1] - b[1]));
    this.view.pan((at[0] - before[0]) / 2, (at[1] - before[1]) / 2);
    this.view.zoom(far(at, other) / far(before, other), [(at[0] + other[0]) / 2, (at[1] + other[1]) / 2]);
  }

  up(event, cancelled = false) {
    if (!this.pointers.delete(event.pointerId)) return;
    this.stage.classList.remove("panning");
    if (this.held) this.finish(cancelled);
    else if (this.start && !this.start.moved && !cancelled)
      this.acts.tap(this.view.toPhoto(this.start.at), this.start.target);
    if (!this.pointers.size) this.start = null;
  }

  finish(cancelled) {
    this.held = null;
    this.stage.removeEventListener("pointerrawupdate", this.ahead);
    this.acts.drop(cancelled || !this.start?.moved);
  }

  wheel(event) {
    if (event.target.closest("[data-still]")) return;
    event.preventDefault();
    const lines = event.deltaMode === 1 ? 16 : 1;
    this.view.zoom(Math.exp(-event.deltaY * lines * (event.ctrlKey ? 0.01 : 0.002)), this.at(event));
  }
}

// An image behind a plot, on a canvas of its own: dark ink on light paper, light ink on dark paper.
import { channels } from "./plot-look.js";
import { make } from "./plot-words.js";

export class Backdrop {
  constructor(raster, frame) {
    this.raster = raster;
    this.canvas = make("canvas", { className: "picture-image", "aria-hidden": "true" });
    this.source = make("canvas", { width: raster.x.length, height: raster.y.length });
    frame.prepend(this.canvas);
  }

  paint(ink) {
    const { x, y, level } = this.raster;
    const context = this.source.getContext("2d");
    const image = context.createImageData(x.length, y.length);
    const [red, green, blue] = channels(ink);
    for (let row = 0; row < y.length; row += 1) {
      const from = (y.length - 1 - row) * x.length; // rows of a canvas count from the top
      for (let column = 0; column < x.length; column += 1) {
        const at = 4 * (row * x.length + column);
        image.data[at] = red;
        image.data[at + 1] = green;
        image.data[at + 2] = blue;
        image.data[at + 3] = level[from + column];
      }
    }
    context.putImageData(image, 0, 0);
    if (this.axes) this.place(this.axes);
  }

  place(axes) {
    this.axes = axes;
    const { x, y } = axes;
    const { canvas, raster } = this;
    const dense = window.devicePixelRatio || 1;
    Object.assign(canvas.style, {
      left: `${x._offset}px`,
      top: `${y._offset}px`,
      width: `${x._length}px`,
      height: `${y._length}px`,
    });
    canvas.width = Math.round(x._length * dense);
    canvas.height = Math.round(y._length * dense);
    const [left, right] = ends(raster.x).map((end) => x.d2p(end) * dense);
    const [bottom, top] = ends(raster.y).map((end) => y.d2p(end) * dense);
    canvas.getContext("2d").drawImage(this.source, left, top, right - left, bottom - top);
  }
}

// from the outer edge of the first cell to that of the last
function ends(row) {
  const half = (0.5 * (row.at(-1) - row[0])) / (row.length - 1);
  return [row[0] - half, row.at(-1) + half];
}

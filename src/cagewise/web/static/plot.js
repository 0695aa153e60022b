// Draws every <figure class="picture" data-picture="..."> when it comes into view.
import { PictureFigure } from "./plot-figure.js";

const AHEAD = "400px";

const coming = new IntersectionObserver(
  (entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      coming.unobserve(entry.target);
      new PictureFigure(entry.target).show();
    }
  },
  { rootMargin: AHEAD },
);

for (const figure of document.querySelectorAll("figure.picture[data-picture]")) {
  coming.observe(figure);
}

// Numbers of pictures from the server, and the plotting library.

const LIBRARY = "/scripts/plotly.js";
const SHEET = "/static/plot.css";
// The library puts rules of its own into the page unless it finds these two: with them, the
// content security policy needs no exception. The second belongs to maps, which are not drawn here.
const OWN_SHEET = "plotly.js-style-global";
const MAP_SHEET = "9f215cf04c5486422605d13261cb87401f4e7763b6296af81e98efbc0130da53";

const KINDS = { f4: Float32Array, f8: Float64Array, u1: Uint8Array };

let library = null;

export function plotly() {
  library ??= new Promise((loaded, failed) => {
    const sheet = document.createElement("link");
    sheet.id = OWN_SHEET;
    sheet.className = "no-inline-styles";
    sheet.rel = "stylesheet";
    sheet.href = SHEET;
    const maps = document.createElement("meta");
    maps.id = MAP_SHEET;
    const script = document.createElement("script");
    script.src = LIBRARY;
    script.async = true;
    script.addEventListener("load", () => loaded(window.Plotly));
    script.addEventListener("error", () => failed(new Error("the plotting script did not load")));
    document.head.append(sheet, maps, script);
  });
  return library;
}

export async function load(address, signal) {
  const answer = await fetch(address, { signal, headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error(await reasonOf(answer));
  return answer.json();
}

async function reasonOf(answer) {
  try {
    const problem = await answer.json();
    return problem.detail || problem.title || `answer ${answer.status}`;
  } catch {
    return `answer ${answer.status}`;
  }
}

export function numbers(packed) {
  const text = atob(packed.data);
  const bytes = new Uint8Array(text.length);
  for (let k = 0; k < text.length; k += 1) bytes[k] = text.charCodeAt(k);
  return new KINDS[packed.dtype](bytes.buffer);
}

export function unpacked(picture) {
  for (const curve of picture.curves) {
    for (const name of ["x", "y", "low", "high"]) {
      if (curve[name]) curve[name] = numbers(curve[name]);
    }
  }
  const raster = picture.raster;
  if (raster) {
    raster.step = raster.level.scale;
    for (const name of ["x", "y", "level"]) raster[name] = numbers(raster[name]);
  }
  return picture;
}

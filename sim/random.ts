// Named random streams: the only source of chance in wayproof.
// A stream's numbers depend on the scenario seed and its own name alone, so
// adding a tracker or a sensor never shifts another's numbers.
import seedrandom from 'seedrandom';

/** One reproducible stream of numbers. */
export interface RandomStream {
  /** Uniform in [0, 1). */
  next(): number;
  /** Standard normal: mean 0, variance 1. */
  gauss(): number;
  /** Uniform integer in [0, n). */
  below(n: number): number;
  /** True with probability num/den; a ratio of integers, so that no rounding decides. */
  chance(num: number, den: number): boolean;
}

/** The stream called `names` under `seed`. Same arguments, same numbers, always. */
export function randomStream(seed: string, ...names: readonly (string | number)[]): RandomStream {
  // JSON keeps the parts apart: ('a', 'bc') and ('ab', 'c') are different streams.
  return new AleaStream(JSON.stringify([seed, ...names]));
}

// Normal numbers by the ziggurat of G. Marsaglia and W. W. Tsang (2000), with one draw for the layer and another
// for the place in it, as J. A. Doornik (2005) advises. Layer k reaches from 0 to EDGES[k]; all have equal area.
const LAYERS = 128;
/** Where the tail begins, and the area of a layer, for 128 layers (both papers). */
const TAIL_FROM = 3.442619855899;
const LAYER_AREA = 9.91256303526217e-3;
const EDGES = ziggurat();
/** Share of each layer that lies wholly under the curve. */
const SURE = EDGES.slice(0, LAYERS).map((edge, k) => (EDGES[k + 1] ?? 0) / edge);

function ziggurat(): Float64Array {
  const edges = new Float64Array(LAYERS + 1);
  let height = Math.exp(-0.5 * TAIL_FROM * TAIL_FROM);
  edges[0] = LAYER_AREA / height;
  edges[1] = TAIL_FROM;
  for (let k = 2; k < LAYERS; k++) {
    const edge = Math.sqrt(-2 * Math.log(LAYER_AREA / (edges[k - 1] ?? 0) + height));
    height = Math.exp(-0.5 * edge * edge);
    edges[k] = edge;
  }
  return edges;
}

class AleaStream implements RandomStream {
  readonly next: () => number;

  constructor(name: string) {
    this.next = seedrandom.alea(name);
  }

  gauss(): number {
    for (;;) {
      const layer = (this.next() * LAYERS) | 0;
      const u = 2 * this.next() - 1;
      const x = u * (EDGES[layer] as number);
      if (Math.abs(u) < (SURE[layer] as number)) return x;
      if (layer === 0) return this.#tail(u < 0);
      const outer = this.#heightOver(layer, x);
      const inner = this.#heightOver(layer + 1, x);
      if (inner + this.next() * (outer - inner) < 1) return x;
    }
  }

  /** Height of the curve at an edge over its height at x. */
  #heightOver(layer: number, x: number): number {
    const edge = EDGES[layer] as number;
    return Math.exp(-0.5 * (edge * edge - x * x));
  }

  /** Beyond the last edge, by the method of Marsaglia (1964). */
  #tail(negative: boolean): number {
    for (;;) {
      const x = Math.log(1 - this.next()) / TAIL_FROM;
      const y = Math.log(1 - this.next());
      if (-2 * y >= x * x) return negative ? x - TAIL_FROM : TAIL_FROM - x;
    }
  }

  below(n: number): number {
    return Math.floor(this.next() * n);
  }

  chance(num: number, den: number): boolean {
    return this.next() * den < num;
  }
}

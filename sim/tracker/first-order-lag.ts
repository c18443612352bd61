// A box warms and cools behind the air around it: T y' = x - y.

/** First-order lag, exact for an input that runs straight from one call to the next. Starts in equilibrium. */
export class FirstOrderLag {
  readonly #timeConstantS: number;
  #lastMs = Number.NaN;
  #input = 0;
  #output = 0;
  // exp() of the step before: trackers report at even intervals.
  #dtS = 0;
  #phi = 1;

  constructor(timeConstantS: number) {
    this.#timeConstantS = timeConstantS;
  }

  /** The output at a time, ms, not before the time asked last, when the input is `input` then. */
  at(atMs: number, input: number): number {
    const dtS = (atMs - this.#lastMs) / 1000;
    if (Number.isNaN(dtS)) this.#output = input;
    else if (dtS > 0) this.#output = this.#follow(dtS, input);
    this.#lastMs = atMs;
    this.#input = input;
    return this.#output;
  }

  #follow(dtS: number, input: number): number {
    if (dtS !== this.#dtS) {
      this.#dtS = dtS;
      this.#phi = Math.exp(-dtS / this.#timeConstantS);
    }
    // In a steady ramp the output trails the input by the time constant x the slope.
    const trail = (this.#timeConstantS * (input - this.#input)) / dtS;
    return input - trail + this.#phi * (this.#output - this.#input + trail);
  }
}

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { nearestOnLine } from '../../sim/place/line.ts';
import { builtinPlace } from '../../sim/place/read-place.ts';
import { insideRing, readyRing } from '../../sim/place/ring.ts';
import { distanceM } from '../../sim/place/sphere.ts';
import { randomStream } from '../../sim/random.ts';
import type { MotionPlan } from '../../sim/scenario/scenario.ts';
import { createMotion } from '../../sim/tracker/motion.ts';
import type { Motion, MotionState } from '../../sim/tracker/motion.ts';

const START = Date.UTC(2031, 2, 3);
const PLACES = {
  tarn: builtinPlace('tarn-isles'),
  shoal: builtinPlace('halfday-shoal'),
  reef: builtinPlace('zero-reef'),
};
type Kind<K extends MotionPlan['kind']> = MotionPlan & { kind: K };

const route = (along: string, more: Partial<Kind<'route'>> = {}): Kind<'route'> => ({
  kind: 'route',
  along,
  speedMps: 7,
  dwellMs: 60_000,
  then: 'turn-back',
  headwayMs: 90_000,
  ...more,
});
const roam = (within: string, speedMps = 1.4): Kind<'roam'> => ({
  kind: 'roam',
  within,
  speedMps,
  turnDegPerMin: 60,
});

const ROUTES = [
  [PLACES.tarn, route('coast-road', { speedMps: 40 })],
  [PLACES.tarn, route('upland-road', { then: 'stay' })],
  [PLACES.tarn, route('ferry', { dwellMs: 0 })],
  [PLACES.shoal, route('causeway', { then: 'start-over' })],
  [PLACES.reef, route('boat-lane')],
] as const;
const ROAMS = [
  [PLACES.tarn, roam('moor')],
  [PLACES.tarn, roam('cold-store', 0.8)],
  [PLACES.tarn, roam('cold-store-sill', 0.5)],
  [PLACES.shoal, roam('lagoon', 6)],
  [PLACES.reef, roam('reef', 12)],
] as const;
const ALL = [...ROUTES, ...ROAMS].map(([place, plan]) => ({
  title: plan.kind === 'route' ? plan.along : plan.within,
  make: (seed = 'a', member = 0): Motion =>
    createMotion(plan, place, START, member, randomStream(seed, 'motion')),
}));

const sampled = (motion: Motion, times: readonly number[]): MotionState[] => times.map((t) => motion.at(t));
const every = (stepMs: number, n: number) => Array.from({ length: n }, (_, i) => START + i * stepMs);

describe.each(ALL)('laws: $title', ({ make }) => {
  it('same seed, same path', () => {
    const times = every(7300, 2000);
    expect(sampled(make(), times)).toEqual(sampled(make(), times));
  });

  it('sampling finer changes nothing', () => {
    fc.assert(
      fc.property(
        fc.array(fc.integer({ min: 0, max: 30_000_000 }), { minLength: 1, maxLength: 60 }),
        (offsets) => {
          const asked = offsets.toSorted((a, b) => a - b).map((ms) => START + ms);
          const finer = [...asked, ...every(600_000, 50)].sort((a, b) => a - b);
          const motion = make();
          const all = new Map(finer.map((t) => [t, motion.at(t)]));
          expect(sampled(make(), asked)).toEqual(asked.map((t) => all.get(t)));
        },
      ),
      { seed: 17, numRuns: 25 },
    );
  });

  it('longitude in [-180, 180), course in [0, 360), and standing means speed 0', () => {
    const wrong: string[] = [];
    for (const s of sampled(make(), every(4100, 5000))) {
      if (!(s.lonDeg >= -180 && s.lonDeg < 180 && s.courseDeg >= 0 && s.courseDeg < 360))
        wrong.push(JSON.stringify(s));
      if (s.moving !== s.speedMps > 0) wrong.push(JSON.stringify(s));
    }
    expect(wrong).toEqual([]);
  });
});

describe('routes', () => {
  it.each(ROUTES.map(([place, plan]) => ({ place, plan, title: plan.along })))(
    '$title: on the line, never above the limit',
    ({ place, plan }) => {
      const wrong: string[] = [];
      const line = place.lines.get(plan.along);
      if (!line) throw new Error('no line');
      const motion = createMotion(plan, place, START, 0, randomStream('a'));
      let before = motion.at(START);
      for (const t of every(2000, 6000).slice(1)) {
        const now = motion.at(t);
        const movedM = distanceM(before, now);
        // The chord can't be longer than the way; 1 mm for rounding. No line here is put back at an open start.
        if (movedM > Math.min(plan.speedMps, line.limitMps) * 2 + 0.001) wrong.push(`${movedM} m at ${t}`);
        // A metre: nearestOnLine takes pieces as straight, the path is a great circle.
        if (nearestOnLine(line, now).offM > 1) wrong.push(`off the line at ${t}`);
        before = now;
      }
      expect(wrong).toEqual([]);
    },
  );

  it('distance equals speed × time: the ferry takes length / speed, within 1 ms', () => {
    const line = PLACES.tarn.lines.get('ferry');
    const motion = createMotion(route('ferry', { then: 'stay' }), PLACES.tarn, START, 0, randomStream('a'));
    const arriveMs = ((line?.lengthM ?? NaN) / 7) * 1000;
    expect(motion.at(START).moving).toBe(true);
    expect(motion.at(START + arriveMs - 1).moving).toBe(true);
    const end = motion.at(START + arriveMs + 1 + 60_000);
    expect(end.moving).toBe(false);
    expect(distanceM(end, line?.points.at(-1) ?? end)).toBeLessThan(1e-6);
    expect(motion.at(START + arriveMs * 9).lonDeg).toBe(end.lonDeg);
  });

  it('the legs add up along the way: sum of short chords = speed × time within 0.01 %', () => {
    const motion = createMotion(route('upland-road'), PLACES.tarn, START, 0, randomStream('a'));
    // The first stop is 3930 m away: 500 s at 7 m/s stay before it.
    const states = sampled(motion, every(100, 5001));
    let sumM = 0;
    for (const [i, s] of states.entries()) sumM += distanceM(states[i - 1] ?? s, s);
    expect(Math.abs(sumM / 3500 - 1)).toBeLessThan(1e-4);
  });

  it('waits at stops and ends, and turns back', () => {
    const line = PLACES.reef.lines.get('boat-lane');
    const lengthM = line?.lengthM ?? NaN;
    const stopM = line?.stopsM[0] ?? NaN;
    const motion = createMotion(
      route('boat-lane', { speedMps: 5 }),
      PLACES.reef,
      START,
      0,
      randomStream('a'),
    );
    const [toStop, toEnd] = [(stopM / 5) * 1000, (lengthM / 5) * 1000 + 60_000];
    const atStop = motion.at(START + toStop + 30_000);
    expect(atStop.moving).toBe(false);
    expect(Math.abs(atStop.lonDeg) + Math.abs(atStop.latDeg)).toBeLessThan(1e-9);
    expect(motion.at(START + toStop + 61_000).moving).toBe(true);
    const out = motion.at(START + toEnd - 20_000);
    expect(motion.at(START + toEnd + 30_000).moving).toBe(false);
    const back = motion.at(START + toEnd + 60_000 + 20_000);
    expect(distanceM(out, back)).toBeLessThan(0.01);
    expect(Math.abs(back.courseDeg - out.courseDeg)).toBeCloseTo(180, 6);
  });

  it('members leave one headway after another', () => {
    const make = (member: number) =>
      createMotion(route('ferry'), PLACES.tarn, START, member, randomStream('a'));
    const [first, third] = [make(0), make(2)];
    expect(third.at(START + 179_999).moving).toBe(false);
    for (const t of [0, 1000, 500_000, 5_000_000])
      expect(third.at(START + 180_000 + t)).toEqual(first.at(START + t));
  });

  it('the causeway crosses the antimeridian both ways in one round, without a jump', () => {
    const motion = createMotion(
      route('causeway', { then: 'start-over' }),
      PLACES.shoal,
      START,
      0,
      randomStream('a'),
    );
    const states = sampled(motion, every(1000, 6000));
    const signs = states.map((s) => Math.sign(s.lonDeg));
    const crossings = signs.filter((sign, i) => i > 0 && sign !== signs[i - 1]).length;
    // 17.6 km at 7 m/s and three pauses of a minute: 2695 s a round, two crossings in each.
    expect(crossings).toBe(4);
  });
});

describe('roaming', () => {
  it.each(ROAMS.map(([place, plan]) => ({ place, plan, title: plan.within })))(
    '$title: always inside, speed kept',
    ({ place, plan }) => {
      const wrong: string[] = [];
      const area = place.areas.get(plan.within);
      if (!area) throw new Error('no area');
      const ring = readyRing(area.ring);
      for (const seed of ['a', 'b', 'c']) {
        const motion = createMotion(plan, place, START, 0, randomStream(seed));
        let before = motion.at(START);
        for (const t of every(1000, 8000).slice(1)) {
          const now = motion.at(t);
          if (!insideRing(ring, now.lonDeg, now.latDeg)) wrong.push(`outside at ${t}`);
          // Steps are laid on a local plane: within 0.01 % of the sphere.
          const limitM = plan.speedMps * 1.0001;
          const movedM = distanceM(before, now);
          if (movedM > limitM) wrong.push(`${movedM} m in a second at ${t}`);
          before = now;
        }
      }
      expect(wrong).toEqual([]);
    },
  );

  it('covers speed × time in each whole step, within 0.01 %', () => {
    const motion = createMotion(roam('moor'), PLACES.tarn, START, 0, randomStream('a'));
    let sumM = 0;
    let before = motion.at(START);
    let standing = 0;
    for (const t of every(5000, 2001).slice(1)) {
      if (!before.moving) standing += 1;
      const now = motion.at(t);
      sumM += distanceM(before, now);
      before = now;
    }
    expect(Math.abs(sumM / ((2000 - standing) * 5 * 1.4) - 1)).toBeLessThan(1e-4);
    expect(standing).toBeLessThan(20);
  });

  it('the turn of the course in a minute has the deviation that the plan says, away from the border', () => {
    // Wide area, slow walk: no border is met. 12 steps of 5 s with deviation 60/sqrt(12) sum to 60 degrees a minute.
    const motion = createMotion(
      { ...roam('upland'), speedMps: 0.01 },
      PLACES.tarn,
      START,
      0,
      randomStream('turns'),
    );
    const courses = sampled(motion, every(60_000, 4001)).map((s) => s.courseDeg);
    let squares = 0;
    for (let i = 1; i < courses.length; i += 1) {
      const turn = (((courses[i] ?? 0) - (courses[i - 1] ?? 0) + 540) % 360) - 180;
      squares += turn * turn;
    }
    // A turn beyond ±180 (3 deviations, 0.27 % of minutes) wraps. The deviation of 4000 samples is good to 1.1 %;
    // five times that, plus 2 % for the wrapping.
    expect(Math.abs(Math.sqrt(squares / 4000) / 60 - 1)).toBeLessThan(0.075);
  });

  it('goes everywhere: crosses the antimeridian, and all quarters around 0, 0', () => {
    const shoal = createMotion(roam('lagoon', 6), PLACES.shoal, START, 0, randomStream('a'));
    expect(new Set(sampled(shoal, every(60_000, 3000)).map((s) => Math.sign(s.lonDeg))).size).toBe(2);
    const reef = createMotion(roam('reef', 6), PLACES.reef, START, 0, randomStream('a'));
    const quarters = sampled(reef, every(60_000, 3000)).map((s) => `${s.lonDeg > 0},${s.latDeg > 0}`);
    expect(new Set(quarters).size).toBe(4);
  });

  it('refuses a time before the step it has reached', () => {
    const motion = createMotion(roam('moor'), PLACES.tarn, START, 0, randomStream('a'));
    motion.at(START + 60_000);
    expect(() => motion.at(START)).toThrow(/before/);
  });
});

it('parked stays, with its longitude wrapped', () => {
  const plan: MotionPlan = { kind: 'parked', lonDeg: 180, latDeg: -12, altM: 2 };
  const motion = createMotion(plan, PLACES.shoal, START, 0, randomStream('a'));
  expect(motion.at(START)).toEqual({
    lonDeg: -180,
    latDeg: -12,
    altM: 2,
    speedMps: 0,
    courseDeg: 0,
    moving: false,
  });
  expect(motion.at(START + 1e9)).toEqual(motion.at(START));
});

it('an id that the place lacks is an Error', () => {
  const none = (plan: MotionPlan) => () => createMotion(plan, PLACES.tarn, START, 0, randomStream('a'));
  expect(none(route('no-road'))).toThrow(/no line no-road/);
  expect(none(roam('no-area'))).toThrow(/no area no-area/);
});

import * as fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { MINUTE_MS, SECOND_MS } from '../../sim/clock.ts';
import { randomStream } from '../../sim/random.ts';
import type { LifecyclePlan } from '../../sim/scenario/scenario.ts';
import type { StageEntered } from '../../sim/tracker/event.ts';
import { iccidPrint, identityOf } from '../../sim/tracker/identity.ts';
import { Lifecycle } from '../../sim/tracker/lifecycle.ts';

const WHO = identityOf('lifecycle', 1);
const START_MS = 1_900_000_000_000;
const BOX: LifecyclePlan = {
  from: 'box',
  failedWrites: 0,
  claimAfterMs: 2 * MINUTE_MS,
  wrongPins: 0,
  unsetClockMs: 0,
  clockSurvives: false,
};

function life(plan: LifecyclePlan, seed = 'a'): Lifecycle {
  return new Lifecycle(plan, WHO, START_MS, randomStream('lifecycle', seed));
}

const names = (told: readonly StageEntered[]) => told.map((stage) => stage.stage);

/** Advances every 10 s for two hours, registered whenever it is powered. */
function drive(one: Lifecycle): StageEntered[] {
  const told: StageEntered[] = [];
  for (let s = 0; s < 7200; s += 10) told.push(...one.advance(START_MS + s * SECOND_MS, one.powered));
  return told;
}

describe('Lifecycle from the box', () => {
  it('goes from the box to streaming', () => {
    expect(names(drive(life(BOX)))).toEqual([
      'numbers-noted',
      'firmware-written',
      'powered',
      'searching',
      'registered',
      'waiting-for-claim',
      'claimed',
      'streaming',
    ]);
  });

  it('notes the SIM number, as printed, and the PUK before the SIM is in and powered', () => {
    const told = drive(life(BOX));
    expect(told[0]?.stage).toBe('numbers-noted');
    expect(told[0]?.note).toContain(iccidPrint(WHO.iccid));
    expect(told[0]?.note).toContain(WHO.puk);
  });

  it('fails its firmware writes, then passes after a power cycle, and refuses wrong PINs', () => {
    expect(names(drive(life({ ...BOX, failedWrites: 2, wrongPins: 3 })))).toEqual([
      'numbers-noted',
      'firmware-failed',
      'firmware-failed',
      'firmware-written',
      'powered',
      'searching',
      'registered',
      'waiting-for-claim',
      'claim-refused',
      'claim-refused',
      'claim-refused',
      'claimed',
      'streaming',
    ]);
  });

  it('is claimed the planned time after it registered', () => {
    const told = drive(life(BOX));
    const at = (stage: string) => told.find((one) => one.stage === stage)?.atMs ?? Number.NaN;
    expect(at('claimed') - at('registered')).toBe(BOX.claimAfterMs);
    expect(at('streaming')).toBe(at('claimed'));
  });

  it('has power, a claim and a stream only from those stages on', () => {
    const one = life({ ...BOX, failedWrites: 1, wrongPins: 1 });
    const seen = new Set<string>();
    for (let s = 0; s < 7200; s += 10) {
      for (const stage of names(one.advance(START_MS + s * SECOND_MS, one.powered))) seen.add(stage);
      expect(one.powered).toBe(seen.has('powered'));
      expect(one.claimed).toBe(seen.has('claimed'));
      expect(one.streaming).toBe(seen.has('streaming'));
    }
    expect(one.stage).toBe('streaming');
  });

  it('never registers without the radio, and so is never claimed', () => {
    const one = life(BOX);
    for (let s = 0; s < 7200; s += 10) one.advance(START_MS + s * SECOND_MS, false);
    expect([one.stage, one.claimed]).toEqual(['searching', false]);
  });

  it('waits with the claim until it is online', () => {
    const one = life(BOX);
    let atMs = START_MS;
    while (one.stage !== 'waiting-for-claim') one.advance((atMs += 10 * SECOND_MS), one.powered);
    expect(one.advance(atMs + 10 * MINUTE_MS, false)).toEqual([]);
    const told = one.advance(atMs + 11 * MINUTE_MS, true);
    expect(told.map(({ stage, atMs: at }) => [stage, at])).toEqual([
      ['claimed', atMs + 11 * MINUTE_MS],
      ['streaming', atMs + 11 * MINUTE_MS],
    ]);
  });

  it('waits for its claim again after a power loss', () => {
    const one = life(BOX);
    let atMs = START_MS;
    while (one.stage !== 'waiting-for-claim') one.advance((atMs += 10 * SECOND_MS), one.powered);
    expect(names(one.powerLost(atMs + 1))).toEqual(['off']);
    expect(names(one.powerBack(atMs + 2))).toEqual(['powered']);
    expect(names(one.advance(atMs + 3, true))).toEqual(['searching', 'registered', 'waiting-for-claim']);
  });

  it('is claimed at once when it is back later than its owner first tried', () => {
    const one = life(BOX);
    let atMs = START_MS;
    while (one.stage !== 'waiting-for-claim') one.advance((atMs += 10 * SECOND_MS), one.powered);
    one.powerLost(atMs + 1);
    const backMs = atMs + 10 * MINUTE_MS;
    one.powerBack(backMs);
    const told = one.advance(backMs, true);
    expect(names(told).slice(-2)).toEqual(['claimed', 'streaming']);
    expect(told.every((stage) => stage.atMs === backMs)).toBe(true);
  });
});

describe('Lifecycle of a deployed tracker', () => {
  const claimed: LifecyclePlan = { ...BOX, from: 'claimed' };

  it('has power and a claim from the start, and streams once registered', () => {
    const one = life(claimed);
    expect([one.powered, one.claimed, one.streaming]).toEqual([true, true, false]);
    expect(names(one.advance(START_MS, false))).toEqual(['powered', 'searching']);
    expect(names(one.advance(START_MS + 1, true))).toEqual(['registered', 'streaming']);
  });

  it('keeps streaming through a loss of coverage', () => {
    const one = life(claimed);
    one.advance(START_MS, true);
    expect(one.advance(START_MS + 1, false)).toEqual([]);
    expect(one.streaming).toBe(true);
  });

  it('stays claimed over a reboot', () => {
    const one = life(claimed);
    one.advance(START_MS, true);
    expect(names(one.powerLost(START_MS + 1))).toEqual(['off']);
    expect([one.powered, one.claimed, one.streaming]).toEqual([true, true, false]);
    expect([...one.powerLost(START_MS + 2), ...one.advance(START_MS + 2, true)]).toEqual([]);
    expect(names(one.powerBack(START_MS + 3))).toEqual(['powered']);
    expect(one.powerBack(START_MS + 3)).toEqual([]);
    expect(names(one.advance(START_MS + 4, true))).toEqual(['searching', 'registered', 'streaming']);
  });
});

describe('laws', () => {
  it('same seed, same life; another seed, other times', () => {
    expect(drive(life(BOX, 'a'))).toEqual(drive(life(BOX, 'a')));
    expect(drive(life(BOX, 'a'))).not.toEqual(drive(life(BOX, 'b')));
  });

  it('tells stages in order of time and never ahead of it, whatever happens', () => {
    const step = fc.record({
      dtMs: fc.nat(20 * MINUTE_MS),
      what: fc.constantFrom('advance', 'advance', 'advance', 'lost', 'back'),
      registered: fc.boolean(),
    });
    fc.assert(
      fc.property(
        fc.constantFrom('box' as const, 'claimed' as const),
        fc.nat(3),
        fc.nat(3),
        fc.array(step, { maxLength: 60 }),
        (from, failedWrites, wrongPins, steps) => {
          const one = life({ ...BOX, from, failedWrites, wrongPins });
          let atMs = START_MS;
          let last = START_MS;
          let claims = 0;
          let refusals = 0;
          for (const { dtMs, what, registered } of steps) {
            atMs += dtMs;
            const told =
              what === 'lost'
                ? one.powerLost(atMs)
                : what === 'back'
                  ? one.powerBack(atMs)
                  : one.advance(atMs, registered);
            for (const stage of told) {
              expect(stage.atMs).toBeGreaterThanOrEqual(last);
              expect(stage.atMs).toBeLessThanOrEqual(atMs);
              last = stage.atMs;
              if (stage.stage === 'claimed') claims += 1;
              if (stage.stage === 'claim-refused') refusals += 1;
            }
          }
          expect(claims).toBe(from === 'box' && one.claimed ? 1 : 0);
          expect(refusals).toBeLessThanOrEqual(wrongPins);
          if (claims === 1) expect(refusals).toBe(wrongPins);
        },
      ),
      { seed: 8 },
    );
  });
});

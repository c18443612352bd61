// Faults of the file, with selectors turned into tracker numbers and offsets into times.
import type { Mistakes } from '../document/mistakes.ts';
import { below } from '../document/pointer.ts';
import { noteWord } from '../document/schema.ts';
import { describe } from '../document/words.ts';
import { durationText } from '../clock.ts';
import { DEFAULT_FAULT } from './defaults.ts';
import type * as raw from './raw.ts';
import type { Fault } from './scenario.ts';
import { Texts } from './texts.ts';

/** Where a group's trackers stand in the fleet. */
export interface Members {
  readonly first: number;
  readonly count: number;
}

export interface FaultWorld {
  readonly startMs: number;
  readonly endMs: number;
  readonly members: ReadonlyMap<string, Members>;
  /** Sets made before, by selector: faults on everyone share one. */
  readonly selected: Map<string, ReadonlySet<number>>;
  readonly mistakes: Mistakes;
}

export function resolveFault(fault: raw.Fault, pointer: string, world: FaultWorld): Fault {
  const { mistakes } = world;
  const texts = new Texts(mistakes);
  const common = {
    trackers: selectTrackers(fault.on ?? DEFAULT_FAULT.on, below(pointer, 'on'), world),
    ...resolveTimes(fault, pointer, texts, world),
  };
  switch (fault.kind) {
    case 'no-coverage':
    case 'power-cut':
    case 'clock-unset':
      return { ...common, kind: fault.kind };
    case 'sky':
      return { ...common, kind: 'sky', sky: fault.sky };
    case 'clock-jump': {
      const at = below(pointer, 'by');
      // 2^12 weeks: more than any roll-over of a week counter.
      const most = 4096 * 7 * 86_400_000;
      const byMs = texts.duration(at, fault.by, 0, { least: -most, most });
      if (byMs === 0) noteZero(at, fault.by, mistakes);
      return { ...common, kind: 'clock-jump', byMs };
    }
    case 'repeat-send':
      return {
        ...common,
        kind: 'repeat-send',
        share: texts.ratio(below(pointer, 'share'), fault.share, DEFAULT_FAULT.repeatShare),
      };
    case 'link-drop':
      return {
        ...common,
        kind: 'link-drop',
        how: fault.how ?? DEFAULT_FAULT.dropHow,
        everyMs: texts.duration(below(pointer, 'every'), fault.every, DEFAULT_FAULT.dropEveryMs, {
          least: 1,
        }),
      };
    case 'sensor-stuck':
    case 'sensor-silent':
      return { ...common, kind: fault.kind, sensor: fault.sensor };
    case 'sensor-spikes':
      if (fault.by === 0) noteZero(below(pointer, 'by'), fault.by, mistakes);
      return {
        ...common,
        kind: 'sensor-spikes',
        sensor: fault.sensor,
        by: fault.by,
        share: texts.ratio(below(pointer, 'share'), fault.share, DEFAULT_FAULT.spikeShare),
      };
  }
}

function noteZero(pointer: string, value: unknown, mistakes: Mistakes): void {
  mistakes.add(pointer, 'another value than 0', describe(value), 'say how far, or take the fault out');
}

function resolveTimes(
  { from, until }: raw.Fault,
  pointer: string,
  texts: Texts,
  { startMs, endMs, mistakes }: FaultWorld,
): { fromMs: number; untilMs: number } {
  const lastsMs = endMs - startMs;
  const fromMs = texts.duration(below(pointer, 'from'), from, DEFAULT_FAULT.fromMs);
  const untilMs = texts.duration(below(pointer, 'until'), until, lastsMs);
  const within = `an offset within the scenario, which lasts ${durationText(lastsMs)}`;
  const mend = 'move the fault, or let the scenario last longer';
  if (fromMs >= lastsMs) mistakes.add(below(pointer, 'from'), within, describe(from), mend);
  else if (untilMs > lastsMs) mistakes.add(below(pointer, 'until'), within, describe(until), mend);
  else if (untilMs <= fromMs) {
    const expected = `an offset after from (${durationText(fromMs)})`;
    mistakes.add(below(pointer, 'until'), expected, describe(until), 'make until the later one');
  }
  return { fromMs: startMs + fromMs, untilMs: startMs + untilMs };
}

function selectTrackers(selector: raw.Selector, pointer: string, world: FaultWorld): ReadonlySet<number> {
  const key = JSON.stringify(selector);
  const before = world.selected.get(key);
  if (before) return before;
  const chosen = new Set(
    typeof selector === 'string'
      ? selectOne(selector, pointer, world)
      : selector.flatMap((one, i) => selectOne(one, below(pointer, i), world)),
  );
  // A wrong selector is told each time it is used.
  if (!world.mistakes.within(pointer)) world.selected.set(key, chosen);
  return chosen;
}

function selectOne(selector: string, pointer: string, { members, mistakes }: FaultWorld): number[] {
  // With counts that may be wrong, only names can be judged.
  const indices = ({ first, count }: Members) =>
    mistakes.within('/fleet') ? [] : Array.from({ length: count }, (_, i) => first + i);
  if (selector === 'everyone') return [...members.values()].flatMap(indices);
  const [, name = selector, memberText] = /^([^#]*)#(.*)$/s.exec(selector) ?? [];
  const group = members.get(name);
  if (!group) {
    noteWord(pointer, name, ['everyone', ...members.keys()], mistakes);
    return [];
  }
  if (memberText === undefined) return indices(group);
  const member = /^[1-9][0-9]{0,6}$/.test(memberText) ? Number(memberText) : 0;
  if (member < 1 || member > group.count) {
    const expected = group.count === 1 ? `${name}#1` : `${name}#1 to ${name}#${group.count}`;
    mistakes.add(pointer, expected, describe(selector), 'count the trackers of a group from 1');
    return [];
  }
  return [group.first + member - 1];
}

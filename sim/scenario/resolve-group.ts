// One group of the file, with every default filled in.
import { DAY_MS, SECOND_MS } from '../clock.ts';
import type { Mistakes } from '../document/mistakes.ts';
import { below } from '../document/pointer.ts';
import { describe, isWellFormed } from '../document/words.ts';
import type { PlaceMap } from '../place/place.ts';
import {
  DEFAULT_BATTERY,
  DEFAULT_BUFFER,
  DEFAULT_GNSS,
  DEFAULT_LABELS,
  DEFAULT_LIFECYCLE,
  DEFAULT_MQTT,
  DEFAULT_OUTAGES,
  DEFAULT_RADIO,
  DEFAULT_REPORT,
  DEFAULT_SENSORS,
  DEFAULT_SKY,
} from './defaults.ts';
import type * as raw from './raw.ts';
import { resolveMotion } from './resolve-motion.ts';
import type {
  BatteryPlan,
  GnssPlan,
  Group,
  LifecyclePlan,
  MqttPlan,
  OutagePlan,
  RadioPlan,
  ReportPlan,
  SensorsPlan,
} from './scenario.ts';
import { Texts } from './texts.ts';
import { checkTopic } from './topics.ts';

/** Place is undefined where it couldn't be read; that is a mistake already noted. */
export function resolveGroup(
  group: raw.Group,
  pointer: string,
  place: PlaceMap | undefined,
  mistakes: Mistakes,
): Group {
  const texts = new Texts(mistakes);
  const at = (...parts: (string | number)[]) => below(pointer, ...parts);
  checkLabels(group.labels ?? [], at('labels'), mistakes);
  return {
    name: group.name,
    count: group.count,
    labels: group.labels ?? DEFAULT_LABELS,
    motion: resolveMotion(group.motion, at('motion'), place, mistakes),
    sky: group.sky ?? DEFAULT_SKY,
    report: resolveReport(group.report ?? {}, at('report'), texts),
    gnss: resolveGnss(group.gnss ?? {}, at('gnss'), texts),
    sensors: resolveSensors(group.sensors ?? {}, at('sensors'), texts),
    battery: resolveBattery(group.battery ?? {}, at('battery'), texts),
    radio: resolveRadio(group.radio ?? {}, at('radio'), texts),
    lifecycle: resolveLifecycle(group.lifecycle ?? {}, at('lifecycle'), texts, mistakes),
    buffer: { ...DEFAULT_BUFFER, ...group.buffer },
    mqtt: resolveMqtt(group.mqtt ?? {}, group.name, at('mqtt'), texts, mistakes),
  };
}

function checkLabels(labels: readonly string[], pointer: string, mistakes: Mistakes): void {
  for (const [i, label] of labels.entries()) {
    if (!isWellFormed(label)) {
      mistakes.add(
        below(pointer, i),
        'text in whole characters',
        describe(label),
        'take the lone surrogate out',
      );
    } else if (label.includes('\0')) {
      // Neither CSV readers nor SQL text columns are bound to keep it.
      mistakes.add(below(pointer, i), 'text without U+0000', describe(label), 'take it out');
    }
  }
}

function resolveReport(report: raw.Report, pointer: string, texts: Texts): ReportPlan {
  const everyMs = texts.duration(below(pointer, 'every'), report.every, DEFAULT_REPORT.everyMs, { least: 1 });
  const fallback = Math.min(DEFAULT_REPORT.spreadMs, everyMs);
  return {
    everyMs,
    spreadMs: texts.duration(below(pointer, 'spread'), report.spread, fallback, { most: everyMs }),
    afterReboot: report.afterReboot ?? DEFAULT_REPORT.afterReboot,
    firstSeq: report.firstSeq ?? DEFAULT_REPORT.firstSeq,
  };
}

function resolveGnss(gnss: raw.Gnss, pointer: string, texts: Texts): GnssPlan {
  const fallback = DEFAULT_GNSS.correlationS * SECOND_MS;
  const at = below(pointer, 'correlation');
  return {
    drmsM: gnss.drmsM ?? DEFAULT_GNSS.drmsM,
    correlationS: texts.duration(at, gnss.correlation, fallback, { least: 1 }) / SECOND_MS,
    withoutFix: gnss.withoutFix ?? DEFAULT_GNSS.withoutFix,
  };
}

function resolveSensors(sensors: raw.Sensors, pointer: string, texts: Texts): SensorsPlan {
  const { airTemp, humidity, pressure, accel, enclosureLagS } = DEFAULT_SENSORS;
  const lag = below(pointer, 'enclosureLag');
  return {
    airTemp: { ...airTemp, ...sensors.airTemp },
    humidity: { ...humidity, ...sensors.humidity },
    pressure: { ...pressure, ...sensors.pressure },
    accel: { ...accel, ...sensors.accel },
    enclosureLagS: texts.duration(lag, sensors.enclosureLag, enclosureLagS * SECOND_MS) / SECOND_MS,
    shocksPerHour: sensors.shocksPerHour ?? DEFAULT_SENSORS.shocksPerHour,
  };
}

function resolveBattery(battery: raw.Battery, pointer: string, texts: Texts): BatteryPlan {
  const { chargeFrom, chargeUntil, ...rest } = battery;
  const chargeFromMs = texts.duration(
    below(pointer, 'chargeFrom'),
    chargeFrom,
    DEFAULT_BATTERY.chargeFromMs,
    {
      most: DAY_MS,
    },
  );
  const until = { least: chargeFromMs, most: DAY_MS };
  const fallback = Math.max(chargeFromMs, DEFAULT_BATTERY.chargeUntilMs);
  return {
    ...DEFAULT_BATTERY,
    ...rest,
    chargeFromMs,
    chargeUntilMs: texts.duration(below(pointer, 'chargeUntil'), chargeUntil, fallback, until),
  };
}

function resolveRadio(radio: raw.Radio, pointer: string, texts: Texts): RadioPlan {
  const { backOffFirstMs, backOffLastMs } = DEFAULT_RADIO;
  const first = texts.duration(below(pointer, 'backOffFirst'), radio.backOffFirst, backOffFirstMs, {
    least: 1,
  });
  return {
    image: radio.image ?? DEFAULT_RADIO.image,
    sim: radio.sim ?? DEFAULT_RADIO.sim,
    outages: radio.outages ? resolveOutages(radio.outages, below(pointer, 'outages'), texts) : null,
    lossLooksLike: radio.lossLooksLike ?? DEFAULT_RADIO.lossLooksLike,
    backOffFirstMs: first,
    backOffLastMs: texts.duration(
      below(pointer, 'backOffLast'),
      radio.backOffLast,
      Math.max(first, backOffLastMs),
      { least: first },
    ),
  };
}

function resolveOutages(outages: raw.Outages, pointer: string, texts: Texts): OutagePlan {
  return {
    stepMs: texts.duration(below(pointer, 'step'), outages.step, DEFAULT_OUTAGES.stepMs, { least: 1 }),
    toBad: texts.ratio(below(pointer, 'toBad'), outages.toBad, DEFAULT_OUTAGES.toBad),
    toGood: texts.ratio(below(pointer, 'toGood'), outages.toGood, DEFAULT_OUTAGES.toGood),
  };
}

function resolveLifecycle(
  lifecycle: raw.Lifecycle,
  pointer: string,
  texts: Texts,
  mistakes: Mistakes,
): LifecyclePlan {
  const from = lifecycle.from ?? DEFAULT_LIFECYCLE.from;
  const { claimAfterMs, unsetClockMs } = DEFAULT_LIFECYCLE;
  if (from !== 'box') {
    for (const key of ['failedWrites', 'wrongPins'] as const) {
      if ((lifecycle[key] ?? 0) === 0) continue;
      mistakes.addKey(below(pointer, key), 'such a key beside `from: box` only', key, 'add from: box');
    }
  }
  return {
    from,
    failedWrites: lifecycle.failedWrites ?? DEFAULT_LIFECYCLE.failedWrites,
    claimAfterMs: texts.duration(below(pointer, 'claimAfter'), lifecycle.claimAfter, claimAfterMs),
    wrongPins: lifecycle.wrongPins ?? DEFAULT_LIFECYCLE.wrongPins,
    unsetClockMs: texts.time(below(pointer, 'unsetClock'), lifecycle.unsetClock, unsetClockMs),
    clockSurvives: lifecycle.clockSurvives ?? DEFAULT_LIFECYCLE.clockSurvives,
  };
}

function resolveMqtt(
  { keepAlive, ...rest }: raw.Mqtt,
  groupName: string,
  pointer: string,
  texts: Texts,
  mistakes: Mistakes,
): MqttPlan {
  const at = below(pointer, 'keepAlive');
  const most = 65_535 * SECOND_MS;
  const keepAliveMs = texts.duration(at, keepAlive, DEFAULT_MQTT.keepAliveS * SECOND_MS, { most });
  if (keepAliveMs % SECOND_MS !== 0) {
    mistakes.add(at, 'whole seconds', describe(keepAlive), 'round it to seconds');
  }
  const mqtt = { ...DEFAULT_MQTT, ...rest, keepAliveS: keepAliveMs / SECOND_MS };
  checkTopic(below(pointer, 'readingsTopic'), mqtt.readingsTopic, groupName, mistakes);
  checkTopic(below(pointer, 'statusTopic'), mqtt.statusTopic, groupName, mistakes);
  return mqtt;
}

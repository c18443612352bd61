// The topic filters that cover a fleet, for whoever subscribes to it.
import type { Group, PayloadKind, Scenario } from '../../sim/index.ts';

export interface FleetTopic {
  readonly filter: string;
  /** Null for status messages. */
  readonly payload: PayloadKind | null;
}

/** Every filter once: readings by payload kind, and status. */
export function fleetTopics(scenario: Scenario): FleetTopic[] {
  const topics = new Map<string, FleetTopic>();
  for (const group of scenario.groups) {
    const readings = filterOf(group.mqtt.readingsTopic, group);
    topics.set(readings, { filter: readings, payload: group.mqtt.payload });
    const status = filterOf(group.mqtt.statusTopic, group);
    if (group.mqtt.status && !topics.has(status)) topics.set(status, { filter: status, payload: null });
  }
  return [...topics.values()];
}

/** A level that holds an id becomes `+`. */
function filterOf(template: string, group: Group): string {
  return template
    .split('/')
    .map((level) => (level.includes('{id}') ? '+' : level.replaceAll('{group}', group.name)))
    .join('/');
}

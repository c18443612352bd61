// Who is in the fleet: the same list for every run, shard and check.
import { randomStream } from '../random.ts';
import type { Group, Scenario } from '../scenario/scenario.ts';
import { identityOf, type Identity } from './identity.ts';

/** One tracker of the fleet, before anything happens to it. */
export interface TrackerSpec {
  /** Index in the fleet, from 0. */
  readonly index: number;
  readonly group: Group;
  /** Index in its group, from 0. */
  readonly member: number;
  readonly identity: Identity;
  readonly label: string;
  readonly readingsTopic: string;
  readonly statusTopic: string;
  /** This tracker's share of the group's spread, ms after the start of the scenario. */
  readonly offsetMs: number;
}

/** Every tracker of the scenario, in fleet order. */
export function rosterOf(scenario: Scenario): readonly TrackerSpec[] {
  const roster: TrackerSpec[] = [];
  for (const group of scenario.groups) {
    for (let member = 0; member < group.count; member++) {
      const index = roster.length;
      const identity = identityOf(scenario.seed, index);
      const topic = (template: string) =>
        template.replaceAll('{id}', identity.imei).replaceAll('{group}', group.name);
      const label = group.labels[member % group.labels.length] ?? '';
      roster.push({
        index,
        group,
        member,
        identity,
        label: label.replaceAll('{group}', group.name).replaceAll('{n}', String(member + 1)),
        readingsTopic: topic(group.mqtt.readingsTopic),
        statusTopic: topic(group.mqtt.statusTopic),
        offsetMs: randomStream(scenario.seed, 'tracker', identity.imei, 'offset').below(
          group.report.spreadMs + 1,
        ),
      });
    }
  }
  return roster;
}

// Topic names against MQTT 3.1.1 and 5.0: sections 1.5.3 / 1.5.4 (UTF-8 strings), 4.7 (topics).
import type { Mistakes } from '../document/mistakes.ts';
import { describe, isWellFormed, quoted } from '../document/words.ts';
import type { Group } from './scenario.ts';

/** Length of a tracker id in a topic: 15 digits. */
const SOME_ID = '000000000000000';
const MOST_BYTES = 65_535;

/** Notes what keeps a topic template from being a topic name. */
export function checkTopic(pointer: string, template: string, groupName: string, mistakes: Mistakes): void {
  const wrong = (expected: string, mend: string) => mistakes.add(pointer, expected, describe(template), mend);
  const placeholder = [...template.matchAll(/\{[^{}]*\}/g)].find(([p]) => p !== '{id}' && p !== '{group}');
  if (placeholder) wrong('no placeholder but {id} and {group}', `take ${quoted(placeholder[0])} out`);
  // MQTT-3.3.2-2, MQTT-4.7.1-1: wildcards stand in topic filters only.
  if (/[+#]/.test(template)) wrong('a topic name without + and #', 'take the wildcard out');
  // 4.7.2: topics that start with $ are the server's own.
  if (template.startsWith('$'))
    wrong('a topic name that does not start with $', 'start it with another sign');
  // MQTT-1.5.3-2, MQTT-4.7.3-2 for U+0000; for the other control characters a receiver may close the connection.
  if (/\p{Cc}/u.test(template)) wrong('a topic name without control characters', 'take them out');
  // MQTT-1.5.3-1
  if (!isWellFormed(template)) wrong('a topic name in whole characters', 'take the lone surrogate out');
  const bytes = Buffer.byteLength(expand(template, groupName));
  // MQTT-4.7.3-3
  if (bytes > MOST_BYTES)
    wrong(`a topic name of at most ${MOST_BYTES} bytes`, `make it shorter: it has ${bytes}`);
}

function expand(template: string, groupName: string): string {
  return template.replaceAll('{id}', SOME_ID).replaceAll('{group}', groupName);
}

/** Notes topics on which two trackers, or readings and status, would meet. */
export function checkCollisions(
  groups: readonly { pointer: string; group: Group }[],
  mistakes: Mistakes,
): void {
  const fixed = new Map<string, string>();
  for (const { pointer, group } of groups) {
    const { readingsTopic, statusTopic, status } = group.mqtt;
    const used = [
      { key: 'readingsTopic', template: readingsTopic },
      ...(status ? [{ key: 'statusTopic', template: statusTopic }] : []),
    ];
    const [readings] = used.map(({ template }) => expand(template, group.name));
    for (const { key, template } of used) {
      const at = `${pointer}/mqtt/${key}`;
      const topic = expand(template, group.name);
      if (key === 'statusTopic' && topic === readings) {
        mistakes.add(
          at,
          'another topic than that of the readings',
          describe(template),
          'change one of the two',
        );
      }
      if (template.includes('{id}') || mistakes.within(at)) continue;
      const other = fixed.get(topic);
      if (group.count > 1) {
        mistakes.add(at, 'a topic of its own for each tracker', describe(template), 'put {id} in it');
      } else if (other !== undefined && other !== pointer) {
        mistakes.add(
          at,
          'a topic of its own for each tracker',
          `${describe(template)}, as at ${other}/mqtt`,
          'put {id} in it',
        );
      }
      fixed.set(topic, pointer);
    }
  }
}

// MQTT topic filters (OASIS MQTT Version 3.1.1, section 4.7).

/** A test of topics against `filter`. */
export function topicMatcher(filter: string): (topic: string) => boolean {
  const levels = filter.split('/');
  // 4.7.2-1: a filter that begins with a wildcard matches no topic that begins with $.
  const wildFirst = levels[0] === '#' || levels[0] === '+';
  const rest = levels.at(-1) === '#';
  const fixed = rest ? levels.slice(0, -1) : levels;
  return (topic) => {
    if (wildFirst && topic.startsWith('$')) return false;
    const parts = topic.split('/');
    // 4.7.1.2: `a/#` matches `a` too.
    if (rest ? parts.length < fixed.length : parts.length !== fixed.length) return false;
    return fixed.every((level, i) => level === '+' || level === parts[i]);
  };
}

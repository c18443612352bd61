// Topic filters (MQTT 3.1.1 section 4.7).

/** Whether the filter matches the topic name. */
export function topicMatches(filter: string, topic: string): boolean {
  // [MQTT-4.7.2-1]: a wildcard at the start doesn't match $SYS and its like.
  if (topic.startsWith('$') && /^[+#]/.test(filter)) return false;
  return levelsCover(filter.split('/'), topic.split('/'));
}

/** Whether every topic that `asked` matches is matched by `granted` too. Both may hold wildcards. */
export function filterCovers(granted: string, asked: string): boolean {
  if (asked.startsWith('$') && /^[+#]/.test(granted)) return false;
  return levelsCover(granted.split('/'), asked.split('/'));
}

function levelsCover(granted: readonly string[], asked: readonly string[]): boolean {
  for (let k = 0; k < granted.length; k++) {
    const level = granted[k];
    // `sport/#` matches `sport` too (4.7.1.2).
    if (level === '#') return true;
    const other = asked[k];
    if (other === undefined || other === '#') return false;
    if (level !== '+' && level !== other) return false;
  }
  return granted.length === asked.length;
}

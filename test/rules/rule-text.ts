/** A sound rule as YAML, for tests that change one thing in it. */
export const soundRule = `id: volume/cluster-size
title: Cluster size the boot loader can read
hazard: [{ if: board.loader.erases == "before-reading", is: unbootable }, { is: ignored }]
keystone: false
when: |-
  present(volume.clusterBytes)
must: |-
  volume.clusterBytes in board.loader.clusterBytes
found: "{sizeText(volume.clusterBytes)} clusters"
needed: "{anyOf(board.loader.clusterBytes)}"
why: The loader takes its cluster size for granted.
remedy:
  - { system: any, rights: none, erases: true, do: "format with {anyOf(board.loader.clusterBytes)}" }
where: volume.clusterBytes
sources:
  - { practice: "common practice, no published source" }
catalogue: ["2.7"]
cases:
  - name: the wanted size
    facts: { volume.clusterBytes: 4096, board.loader.clusterBytes: [4096] }
    expect: holds
  - name: too large
    facts: { volume.clusterBytes: 32768, board.loader: { clusterBytes: [4096], erases: before-reading } }
    expect: failed
    hazard: unbootable
    mend: { volume.clusterBytes: 4096 }
  - name: not seen
    facts: { board.loader.clusterBytes: [4096] }
    expect: unknown
  - name: no volume
    facts: { volume: !absent }
    expect: not-applicable
`;

/** The sound rule with one stretch of its text replaced; throws when the stretch is not there. */
export function soundRuleWith(found: string, put: string): string {
  if (!soundRule.includes(found)) throw new Error(`the rule does not contain ${found}`);
  return soundRule.replace(found, () => put);
}

/** A rule that is only there to be judged: `must` and whatever else is given, as YAML lines. */
export function smallRule(id: string, must: string, more = 'hazard: ignored'): string {
  return `id: ${id}
title: Title of ${id}
must: |-
  ${must.replaceAll('\n', '\n  ')}
found: found
needed: needed
why: why
remedy: [{ system: any, rights: none, erases: false, do: mend it }]
sources: [{ practice: none }]
catalogue: []
cases:
  - { name: a, facts: {}, expect: failed, mend: {} }
  - { name: b, facts: {}, expect: holds }
${more}
`;
}

/** SARIF 2.1.0 (OASIS standard with errata 01): the form in which dashboards for findings read reports. */
import { type Hazard, hazards, type Rule } from '../rules/rule.js';
import { visible } from '../rules/visible.js';
import { findingDetails, findingLine } from './finding-text.js';
import { jsonPart } from './json.js';
import { notProvenLines, notProvenRule, notProvenTitle } from './not-proven.js';
import type { Finding, Report } from './report.js';
import type { Reporter, ReportOptions } from './reporters.js';
import { ruleSections } from './rule-markdown.js';
import { hazardsOf, rulePage } from './rule-page.js';
import { templateText } from './rule-text.js';
import { type ReportStream, type SummaryEnd, streaming, wholeText } from './stream.js';
import type { Summary } from './summary.js';
import { encodedPath, targetUri } from './target-uri.js';
import { reflow } from './wrap.js';

const schemaUri =
  'https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json';
/** What relative paths are relative to. Which folder that is, a report does not say: it is the same on every machine. */
const baseId = 'WORKINGFOLDER';
/** How deep the entries of `results` stand. */
const entryIndent = 8;

/**
 * One run with all targets. What failed, what could not be judged and what was waived are results; with `verbose`
 * also what holds and what does not apply. Results come first, so that they can be written one after the other.
 */
export const sarifReport: Reporter = streaming(
  (report, options) =>
    wholeText(new SarifStream(options), report.tool, [report], { verdict: report.verdict, unchecked: [] }),
  (options) => new SarifStream(options),
);

class SarifStream implements ReportStream {
  private tool: Summary['tool'] | undefined;
  private ruleSet: Report['rules'] | undefined;
  private hasResults = false;
  private readonly artifacts: object[] = [];
  /** Places of artifacts that several reports name. */
  private readonly inputs = new Set<string>();
  private readonly descriptors = new Map<string, { index: number; descriptor: object }>();

  constructor(private readonly options: ReportOptions) {}

  begin(tool: Summary['tool']): string {
    this.tool = tool;
    const head = `{\n  "version": "2.1.0",\n  "$schema": "${schemaUri}",\n  "runs": [\n    {\n`;
    return `${head}      "results": [`;
  }

  next(report: Report): string {
    this.ruleSet ??= report.rules;
    const index = this.artifacts.push(this.artifactOf(report)) - 1;
    this.addInputs(report);
    const shown = report.findings.filter(
      ({ outcome }) => this.options.verbose || !['holds', 'not-applicable'].includes(outcome),
    );
    const results = shown.map((finding) => this.resultOf(finding, report, index));
    if (report.verdict === 'not-proven') results.unshift(this.notProven(report, index));
    let text = '';
    for (const result of results) {
      text += `${this.hasResults ? ',' : ''}\n${' '.repeat(entryIndent)}${jsonPart(result, entryIndent)}`;
      this.hasResults = true;
    }
    return text;
  }

  end({ unchecked }: SummaryEnd): string {
    const run = {
      tool: { driver: this.driver() },
      artifacts: this.artifacts,
      originalUriBaseIds: {
        [baseId]: { description: { text: 'The folder in which flashworthy was started.' } },
      },
      invocations: [
        {
          executionSuccessful: unchecked.length === 0,
          ...(unchecked.length === 0
            ? {}
            : {
                toolExecutionNotifications: unchecked.map(({ path, exit, text }) => ({
                  level: 'error',
                  message: { text: messageText(`Not checked: ${visible(text)}`) },
                  locations: [{ physicalLocation: { artifactLocation: this.location(path) } }],
                  properties: { exit },
                })),
              }),
        },
      ],
    };
    const rest = Object.entries(run).map(([key, value]) => `      "${key}": ${jsonPart(value, 6)}`);
    return `${this.hasResults ? '\n      ' : ''}],\n${rest.join(',\n')}\n    }\n  ]\n}\n`;
  }

  private driver(): object {
    const { name, version } = this.tool ?? { name: 'flashworthy', version: '' };
    return {
      name,
      version,
      ...(/^\d+\.\d+\.\d+(?:[-+]|$)/.test(version) ? { semanticVersion: version } : {}),
      rules: [...this.descriptors.values()].map(({ descriptor }) => descriptor),
      ...(this.ruleSet ? { properties: { rules: this.ruleSet } } : {}),
    };
  }

  private location(path: string, inside?: string): { uri: string; uriBaseId?: string } {
    const uri = targetUri(path, this.options.system, inside);
    return uri.startsWith('file:') ? { uri } : { uri, uriBaseId: baseId };
  }

  private artifactOf(report: Report): object {
    const { target, verdict, hazard, provided, board } = report;
    // Of a packed image the length is that of what is inside.
    const isWhole = target.kind === 'image' && target.bytes !== null && !isPacked(report);
    return {
      location: this.location(target.path),
      ...(isWhole ? { length: target.bytes } : {}),
      roles: ['analysisTarget'],
      properties: {
        kind: target.kind,
        verdict,
        ...(hazard === null ? {} : { hazard }),
        ...(board === null ? {} : { board: `${board.id}, revision ${board.revision}` }),
        ...(provided.length === 0 ? {} : { provided: provided.map(({ text }) => reflow(text)) }),
      },
    };
  }

  private addInputs({ inputs }: Report): void {
    for (const { role, path, sha256 } of inputs) {
      const key = `${path}\0${sha256}`;
      if (this.inputs.has(key)) continue;
      this.inputs.add(key);
      this.artifacts.push({
        location: this.location(path),
        roles: ['userSpecifiedConfiguration'],
        hashes: { 'sha-256': sha256 },
        description: { text: messageText(visible(role)) },
      });
    }
  }

  private resultOf(finding: Finding, report: Report, artifact: number): object {
    const { rule, outcome, hazard, where, because } = finding;
    const isFailed = outcome === 'failed' || outcome === 'waived';
    return {
      ruleId: rule,
      ruleIndex: this.ruleIndex(rule, () => this.descriptorOf(finding)),
      kind: kinds[outcome],
      level: isFailed ? levelOf([hazard]) : 'none',
      message: {
        text: messageText(
          [
            findingLine(finding),
            ...(outcome === 'holds' || outcome === 'not-applicable' ? [] : [findingDetails(finding)]),
          ].join('\n'),
        ),
      },
      locations: [this.place(report, artifact, where)],
      partialFingerprints: this.fingerprint(rule, report, where?.path),
      ...(outcome === 'waived'
        ? {
            suppressions: [
              {
                kind: 'external',
                status: 'accepted',
                justification: visible(reflow(because ?? 'the board profile accepts it')),
              },
            ],
          }
        : {}),
      ...(isFailed ? { rank: rankOf(hazard) } : {}),
      properties: { hazard },
    };
  }

  private notProven(report: Report, artifact: number): object {
    return {
      ruleId: notProvenRule,
      ruleIndex: this.ruleIndex(notProvenRule, () => ({
        id: notProvenRule,
        name: ruleName(notProvenRule),
        shortDescription: { text: notProvenTitle },
        fullDescription: {
          text: 'A card is fit only when everything that decides it was seen. What was not seen is never taken to be right.',
        },
        defaultConfiguration: { level: 'error' },
      })),
      kind: 'fail',
      level: 'error',
      message: { text: messageText(notProvenLines(report).map(visible).join('\n')) },
      locations: [this.place(report, artifact, undefined)],
      partialFingerprints: this.fingerprint(notProvenRule, report, undefined),
    };
  }

  /**
   * The image with the bytes in it, and, by name, the file on it. Files of a folder are files themselves. A packed
   * image has no such bytes: its offsets count in what is inside, and the message tells them.
   */
  private place(report: Report, index: number, where: Finding['where']): object {
    const { target } = report;
    const isFolder = target.kind === 'staging' || target.kind === 'folder';
    const { path, offset, length } = where ?? {};
    const region =
      offset === undefined || isPacked(report)
        ? undefined
        : { byteOffset: offset, ...(length === undefined ? {} : { byteLength: length }) };
    return {
      physicalLocation: {
        artifactLocation:
          isFolder && path !== undefined
            ? this.location(target.path, path)
            : { ...this.location(target.path), index },
        ...(region === undefined ? {} : { region }),
      },
      ...(path === undefined || isFolder
        ? {}
        : { logicalLocations: [{ fullyQualifiedName: visible(path), kind: 'file' }] }),
    };
  }

  /**
   * The same for the same rule, card and file, whatever else changes on the card. Offsets are no part of it: they move
   * when another file is copied.
   */
  private fingerprint(rule: string, { target }: Report, path: string | undefined): object {
    const uri = this.location(target.path).uri;
    return { 'flashworthyFinding/v1': `${rule}:${uri}${path === undefined ? '' : `#${encodedPath(path)}`}` };
  }

  private ruleIndex(rule: string, describe: () => object): number {
    const known = this.descriptors.get(rule);
    if (known) return known.index;
    const index = this.descriptors.size;
    this.descriptors.set(rule, { index, descriptor: describe() });
    return index;
  }

  private descriptorOf(finding: Finding): object {
    const rule = this.options.rules?.find(({ id }) => id === finding.rule);
    const common = {
      id: finding.rule,
      name: ruleName(finding.rule),
      shortDescription: { text: messageText(finding.title) },
    };
    return rule
      ? { ...common, ...described(rule) }
      : { ...common, defaultConfiguration: { level: levelOf([finding.hazard]) } };
  }
}

/** What a rule says in general, with its whole page as help. */
const described = (rule: Rule): object => ({
  fullDescription: { text: messageText(reflow(templateText(rule.why))) },
  defaultConfiguration: { level: levelOf(hazardsOf(rule)) },
  help: {
    text: messageText(rulePage(rule, { width: 80, color: false })),
    markdown: messageText(ruleSections(rule, {})),
  },
  properties: {
    tags: [rule.id.split('/')[0]],
    hazards: hazardsOf(rule),
    ...(rule.keystone === null ? {} : { keystone: rule.keystone }),
  },
});

/** Section 3.27.9: `open` is what could not be decided. */
const kinds: Readonly<Record<Finding['outcome'], string>> = {
  failed: 'fail',
  waived: 'fail',
  unknown: 'open',
  holds: 'pass',
  'not-applicable': 'notApplicable',
};

/** Whatever refuses a card is an error: a gate that only looks at errors must not let it through. */
const levelOf = (of: readonly Hazard[]): 'error' | 'note' =>
  of.every((hazard) => hazard === 'advice') ? 'note' : 'error';

/** From 100 for the worst hazard to 0 for advice (section 3.27.25). */
const rankOf = (hazard: Hazard): number =>
  Math.round(100 * (1 - hazards.indexOf(hazard) / (hazards.length - 1)));

/** `volume/cluster-size` as `VolumeClusterSize`: a name that a reader of code knows (section 3.49.7). */
const ruleName = (id: string): string =>
  id
    .split(/[^A-Za-z0-9]+/)
    .map((word) => word.charAt(0).toUpperCase() + word.slice(1))
    .join('');

/**
 * A text as a message: braces are doubled, since one alone begins a placeholder (section 3.11.5), and what would
 * become a link is none (section 3.11.6): names come from a stranger's card.
 */
const messageText = (text: string): string => text.replaceAll(/[{}]/g, '$&$&').replaceAll('](', '] (');

function isPacked({ facts }: Report): boolean {
  const { media } = facts;
  const container =
    typeof media === 'object' && media !== null && !Array.isArray(media) ? media.container : undefined;
  return typeof container === 'string' && container !== 'none';
}

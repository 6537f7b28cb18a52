import { mendOrder } from '../blame.js';
import { keystoneText } from '../keystone-words.js';
import { openCauses } from '../open-causes.js';
import type { Finding, Report } from '../report.js';
import { countsText } from '../verdict-words.js';
import { reflow, sentence } from '../wrap.js';
import { cardPicture } from './card-picture.js';
import { briefly, faultCards } from './findings.js';
import { list, type Place, section } from './layout.js';
import { type Content, join, type Markup, named, tag } from './markup.js';
import { memoryPicture } from './memory-picture.js';
import { powerBars } from './power-bars.js';
import { checked, verdictPanel } from './verdict-panel.js';
import { guide, next, provisos } from './way-on.js';

/** One report: the verdict and what to do first, everything else after it, what only some want folded. */
export function reportSections(report: Report, place: Place): Markup {
  const { findings } = report;
  const judged = ({ hazard }: Finding): boolean => hazard !== 'advice';
  const failed = findings.filter(({ outcome }) => outcome === 'failed');
  const faults = mendOrder(failed.filter(judged));
  return join(
    verdictPanel(report, place),
    tag(
      'div',
      { class: 'columns' },
      checked(report, place),
      tag(
        'div',
        { class: 'sections' },
        next(report, faults, place),
        provisos(report, place),
        guide(report, place),
        faults.length > 0 &&
          section(
            place,
            'What is not as it must be',
            faults.length > 1 && tag('p', {}, 'In the order in which to mend them.'),
            faultCards(faults, place),
          ),
        open(
          findings.filter((finding) => finding.outcome === 'unknown' && judged(finding)),
          place,
        ),
        keystones(report, place),
        pictures(report, faults, place),
        waived(
          findings.filter(({ outcome }) => outcome === 'waived'),
          place,
        ),
        advice(
          failed.filter((finding) => !judged(finding)),
          place,
        ),
        rest(report, place),
      ),
    ),
  );
}

/** One entry a cause, however many rules wait for it. */
function open(findings: readonly Finding[], place: Place): Markup | null {
  if (findings.length === 0) return null;
  return section(
    place,
    'What could not be judged',
    openCauses(findings).map(({ text, settle, rules }) =>
      tag(
        'div',
        { class: 'open' },
        tag('p', {}, tag('strong', {}, sentence(reflow(text)))),
        settle !== undefined && tag('p', {}, 'To settle it: ', reflow(settle)),
        tag(
          'details',
          {},
          tag(
            'summary',
            {},
            rules.length === 1 ? 'One rule waits for it' : `${rules.length} rules wait for it`,
          ),
          list(rules.map((rule) => tag('code', {}, rule))),
        ),
      ),
    ),
  );
}

function keystones({ keystonesMissing, verdict }: Report, place: Place): Markup | null {
  if (verdict !== 'not-proven' || keystonesMissing.length === 0) return null;
  return section(place, 'It could not be shown that', list(keystonesMissing.map(keystoneText)));
}

function pictures(report: Report, faults: readonly Finding[], place: Place): Content {
  const card = cardPicture(report, faults, `${place.prefix}card`);
  const memory = memoryPicture(report, `${place.prefix}memory`);
  const power = powerBars(report);
  return [
    card && section(place, 'The card from its first byte to its last (not to scale)', card),
    memory && section(place, 'The memory of the processor (not to scale)', memory),
    power && section(place, 'What it draws', power),
  ];
}

function waived(findings: readonly Finding[], place: Place): Markup | null {
  if (findings.length === 0) return null;
  return section(
    place,
    'Waived: these rules failed, and the board profile says that they may',
    briefly(findings, ({ found, because }) => (because ? `${found}; ${because}` : found)),
  );
}

function advice(findings: readonly Finding[], place: Place): Markup | null {
  if (findings.length === 0) return null;
  return section(
    place,
    'Worth knowing; it does not change the verdict',
    briefly(findings, ({ found }) => found),
  );
}

/** What only some readers want: folded, and on paper left out. */
function rest(report: Report, place: Place): Markup {
  const { findings, coverage, board, tool, rules, inputs } = report;
  const of = (outcome: Finding['outcome']): Finding[] => findings.filter((each) => each.outcome === outcome);
  const silent = [...new Set([...coverage.coreSilent, ...coverage.silent])];
  const folded = (title: string, ...content: Content[]): Markup =>
    tag('details', { class: 'deep' }, tag('summary', {}, title), ...content);
  const [holds, others] = [of('holds'), of('not-applicable')];
  return section(
    place,
    'Everything else',
    tag('p', {}, countsText(report)),
    holds.length > 0 &&
      folded(
        `What holds (${holds.length})`,
        briefly(holds, ({ because }) => because ?? ''),
      ),
    others.length > 0 &&
      folded(
        `What does not apply (${others.length})`,
        briefly(others, ({ because }) => because ?? ''),
      ),
    board !== null &&
      silent.length > 0 &&
      folded(
        `What this profile does not say (${silent.length})`,
        list(silent.map((key) => tag('code', {}, key))),
      ),
    folded(
      'What this verdict rests on',
      list([
        `${tool.name} ${tool.version}`,
        [`rules ${rules.version}, SHA-256 `, tag('code', {}, rules.sha256)],
        ...inputs.map(
          ({ role, path, sha256 }): Content => [
            `${role} `,
            named(path),
            ', SHA-256 ',
            tag('code', {}, sha256),
          ],
        ),
      ]),
    ),
  );
}

// Checks a card image from a program of your own: node check-card.ts CARD RELEASE SUPPLY INSTALLED
import { inspect, judge, machineFromOptions, reporterOf } from 'flashworthy';
import { nodeDigests, openCard, packagedProcessors, packagedRules, readRelease } from 'flashworthy/node';

const [card = 'card.img', folder = 'release', supply, installed] = process.argv.slice(2);

const release = readRelease(folder);
const { machine, problems } = machineFromOptions({ supply, installed, sets: {} }, release.profile);
if (problems.length > 0) throw new Error(problems.map(({ message }) => message).join('\n'));

const { target, close } = await openCard(card);
try {
  const processors = packagedProcessors();
  const subject = { ...release, target, machine, stated: {}, digests: nodeDigests, processors };

  // What was measured, without a judgement.
  const facts = inspect(subject);
  console.error(`clusters of ${facts.number('volume.clusterBytes') ?? 'unknown'} bytes`);

  // What it means for this board: the same report as that of the command.
  const report = judge(facts, subject, { ruleSet: packagedRules() });
  const write = await reporterOf('junit');
  process.stdout.write(write(report, { width: 80, color: false, verbose: false }));
  process.exitCode = { fit: 0, refused: 1, 'not-proven': 2 }[report.verdict];
} finally {
  close();
}

using System.Globalization;
using Cardassay.Collector.Report.First;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>What the zip says of itself to whoever opens it.</summary>
internal static class EvidenceReadme
{
    private const int LineChars = 140;

    internal static string Of(Evidence evidence)
    {
        int records = evidence.Records;
        return string.Create(CultureInfo.InvariantCulture, $$"""
            What this is
            ------------
            The raw records behind a published table of SD card measurements, made with Cardassay {{evidence.MadeWith}}.

            table.md, table.html   the table as published
            figures.csv            every figure of every card: median, bounds, n, ranks (RFC 4180)
            trials.csv             for every trial the row of figures.csv it stands behind (1 is the first below the heading), and whether
                                   it counts there or which rule set it aside; without a row where no trial of its series counts
            recompute.py           recomputes the measured cells with Python 3 alone
            records.jsonl          {{records}} raw records and {{evidence.Notes}} notes, one JSON object a line
            about.json             which columns, cards and profile were chosen
            profile.json           weights and floors, only where they are not built in

            How to check it
            ---------------
                cardassay-collector verify FILE.zip
                cardassay-collector verify FILE.zip --table a-table-copied-from-a-page.md

            recomputes every figure, rank and verdict from records.jsonl and names the first figure of each file that differs. Without Cardassay:

                python3 recompute.py FILE.zip

            recomputes median, bounds and n of every measured cell. By hand: a line of records.jsonl with "trialMeasured" holds operations,
            bytes and elapsedNs of one trial; those with a "part" of 2 or more belong to the trial before them in the run and are added to it.
            Operations x 10^9 / elapsedNs is its figure in operations per second, bytes x 1000 / elapsedNs in MB/s (10^6 bytes); of a swap trial
            the operations are the counts of readLatency, of a class write the figure is countedUnitBytes (segmentBytes where it is not
            stated) x 1000 / slowestUnitNs. A cell is the median of the trials that trials.csv marks "yes" for its row. Its bounds are the r-th
            smallest and the r-th largest of the n figures, with the largest r for which 1 - 2 P(fewer than r heads in n tosses of a coin)
            reaches 97.5 %; below n = 7 there is none, and the bounds are the range.

            What the records carry of verdicts: the registers, the claim, the proofs of capacity and the measured marks, each in records.jsonl.
            Ranks come from one model over all cards and boards, which takes a statistics package to repeat; `verify` repeats both. What they do not
            carry: that the trial was made on the card in the slot, and the prices and boards that were taken out.

            It proves that the table follows from these records. It does not prove that the records are what a board
            measured: whoever changes both can make them agree. "journaledSha256" is the SHA-256 of the record as the board wrote it;
            the owner can show the unchanged record to it.

            How the figures came about, and what they do not say
            ----------------------------------------------------
            {{string.Join('\n', Method(evidence).SelectMany(line => FirstPageText.Wrap("- " + line, LineChars)))}}

            What is in it
            -------------
            Measurements with their times and conditions, board models, kernel versions, plans, claims on cards (maker, product, capacity,
            marks{{(evidence.Options.Prices ? ", prices" : "")}}, day of purchase), tags, and the registers of the cards with their serial numbers.
            All cards of the collector are in it, because ranks are among all of them.

            What was taken out
            ------------------
            Host names, names of boards and of other collectors (boards are board-1, board-2 and so on), paths of targets, mount options, boot
            identities, comments in plans, shops, schedules, names of imported files{{(evidence.Options.Prices ? "" : ", prices")}}. In sentences written by boards,
            these names and every path outside /sys, /proc and /dev are replaced.
            {{(evidence.Unreadable > 0 ? string.Create(CultureInfo.InvariantCulture, $"{evidence.Unreadable} records could not be read and are left out.\n") : "")}}
            """);
    }

    private static IEnumerable<string> Method(Evidence evidence) => evidence.Report is { } report ? report.Method.Concat(report.Cautions) : [];
}

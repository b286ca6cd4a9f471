using System.Text;
using Cardassay.Collector.Report.Model;
using Cardassay.Trust;

namespace Cardassay.Collector.Report.First;

/// <summary>
/// The first page as plain text: a label in the margin, sentences beside it, at most <see cref="MostLines"/> lines of 80 columns.
/// </summary>
public static class FirstPageText
{
    /// <summary>Lines of the page, heading and blank lines included.</summary>
    public const int MostLines = 40;

    private const int Margin = FirstPagePart.LabelChars + 2;

    /// <summary>The page with a final newline.</summary>
    /// <param name="model">A report with its first page.</param>
    public static string Render(ReportModel model)
    {
        List<string> head = [Heading(model)];
        if (model.Invented)
        {
            head.Add($"{Wording.Invented}: "
                + $"{(model.Cards.All(c => c.Invented) ? "all cards, boards and figures are made up." : Wording.InventedMeaning(model))}");
        }

        head.Add(new string('─', TerminalReport.Width));
        List<string>[] parts = Fit(model.First, MostLines - head.Count - 1);
        var text = new StringBuilder();
        text.AppendJoin('\n',
            head.SelectMany(l => Wrap(l, TerminalReport.Width)).Concat(parts.SelectMany(p => p))
                .Append("All of it: report --full. One card: report TAG. Why: report --explain TAG.")).Append('\n');
        return text.ToString();
    }

    private static string Heading(ReportModel model) =>
        $"{char.ToUpperInvariant(model.Span[0])}{model.Span[1..]}; data as of {model.GeneratedFor}; {model.Profile}";

    /// <summary>
    /// Drops sentences from the end of the page upwards, saying how many, until it fits; each part keeps what it
    /// must, as long as that is possible.
    /// </summary>
    private static List<string>[] Fit(IReadOnlyList<FirstPagePart> parts, int lines)
    {
        int[] shown = [.. parts.Select(p => p.Lines.Count)];
        List<string>[] laid = [.. parts.Select((p, i) => Lay(p, shown[i]))];
        while (laid.Sum(l => l.Count) > lines)
        {
            int[] spare = [.. Enumerable.Range(0, parts.Count).Where(i => shown[i] > parts[i].Keep)];
            int[] any = [.. Enumerable.Range(0, parts.Count).Where(i => shown[i] > 1)];
            if ((spare.Length > 0 ? spare : any) is not [.., var last])
            {
                break;
            }

            shown[last]--;
            laid[last] = Lay(parts[last], shown[last]);
        }

        return laid;
    }

    private static List<string> Lay(FirstPagePart part, int shown)
    {
        List<string> lines = [.. part.Lines.Take(shown).SelectMany(l => Wrap(l, TerminalReport.Width - Margin))];
        if (shown < part.Lines.Count)
        {
            string more = $"({Wording.Number(part.Lines.Count - shown)} more)";
            if (lines[^1].Length + more.Length + 1 <= TerminalReport.Width - Margin)
            {
                lines[^1] += " " + more;
            }
            else
            {
                lines.Add(more);
            }
        }

        return [.. lines.Select((l, i) => (i == 0 ? part.Label : "").PadRight(Margin) + l)];
    }

    /// <summary>Breaks a sentence at blanks.</summary>
    /// <param name="text">The sentence.</param>
    /// <param name="columns">Longest line; a longer word is broken.</param>
    /// <param name="hang">What lines after the first begin with.</param>
    internal static IEnumerable<string> Wrap(string text, int columns, string hang = "  ")
    {
        var line = new StringBuilder();
        foreach (string word in PlainText.Clean(text).Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            if (line.Length > 0 && line.Length + 1 + word.Length > columns)
            {
                yield return line.ToString();
                line.Clear().Append(hang);
            }

            line.Append(line.Length > 0 && line[^1] != ' ' ? " " : "").Append(word);
            while (line.Length > columns)
            {
                yield return line.ToString(0, columns);
                line.Remove(0, columns).Insert(0, hang);
            }
        }

        yield return line.ToString();
    }
}

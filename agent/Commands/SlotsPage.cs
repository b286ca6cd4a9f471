using System.Text;
using Cardassay.Judging;

namespace Cardassay.Agent.Commands;

/// <summary>What a test of two slots came to, for a person: every comparison, then what it allows, then what was not tried.</summary>
internal static class SlotsPage
{
    internal static string Render(IReadOnlyList<SlotComparison> all)
    {
        var page = new StringBuilder();
        page.AppendLine("speed together against alone:");
        foreach (SlotComparison one in all)
        {
            page.Append("  ").AppendLine(SlotsTogether.Words(one));
        }

        page.AppendLine();
        Add(page, "Two plans that only read", SlotsTogether.Judge(all, writes: false));
        Add(page, "Plans that write", SlotsTogether.Judge(all, writes: true));
        page.AppendLine();
        page.AppendLine("Not tried: other cards than these, which may draw more current; heat over a whole night; more than two slots; "
            + "plans for a folder, capacity proofs;");
        page.AppendLine("queues deeper than 1 and other kinds of trials, for which the same is inferred.");
        page.AppendLine("It holds for this kernel and these two slots.");
        return page.ToString();
    }

    private static void Add(StringBuilder page, string what, SlotsJudgement judged)
    {
        string word = judged.Word switch
        {
            SlotsWord.DoNotDisturb => "do not disturb each other",
            SlotsWord.Disturb => "disturb each other; they are measured one at a time",
            _ => "not shown; they are measured one at a time",
        };
        page.AppendLine($"{what}: {word}. {judged.Text} {judged.Settles}".TrimEnd());
    }
}

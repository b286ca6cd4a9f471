using Cardassay.Identity;
using Cardassay.Registers;
using Cardassay.Trials;

namespace Cardassay.Tests.Registers;

/// <summary>One card whose registers somebody showed in public.</summary>
/// <param name="Source">Where, and how large the card is.</param>
/// <param name="Files">What was shown, as a board would report it.</param>
public sealed record PublicCard(string Source, IReadOnlyDictionary<string, Reading<string>> Files)
{
    /// <summary>The registers, decoded.</summary>
    public CardRegisters Registers { get; } = CardRegisters.From(Files, 0, Attachment.Slot);

    public override string ToString() => Source;
}

/// <summary>The cards of tests/fixtures/registers/public-cards.tsv.</summary>
public static class PublicCards
{
    private static readonly string[] Registers = ["cid", "csd", "scr", "ssr"];

    public static IReadOnlyList<PublicCard> All { get; } =
        [.. File.ReadAllLines(Path.Combine(Folder(), "public-cards.tsv")).Where(line => !line.StartsWith('#')).Select(Parse)];

    private static PublicCard Parse(string line)
    {
        string[] fields = line.Split('\t');
        var files = new Dictionary<string, Reading<string>> { ["type"] = Reading<string>.Known(fields[1]) };
        foreach ((string name, string text) in Registers.Zip(fields[2..]).Where(f => f.Second != "-"))
        {
            files[name] = Reading<string>.Known(name == "ssr" ? text.PadRight(128, '0') : text);
        }

        return new PublicCard(fields[0], files);
    }

    private static string Folder()
    {
        DirectoryInfo? folder = new(AppContext.BaseDirectory);
        while (folder is not null && !File.Exists(Path.Combine(folder.FullName, "Cardassay.slnx")))
        {
            folder = folder.Parent;
        }

        return Path.Combine(folder!.FullName, "tests", "fixtures", "registers");
    }
}

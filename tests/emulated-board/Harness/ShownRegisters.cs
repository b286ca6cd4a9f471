namespace Cardassay.EmulatedBoard.Harness;

/// <summary>What the scenario `registers` printed: the text of each file by disk and name.</summary>
public sealed class ShownRegisters
{
    private readonly Dictionary<string, string> texts;

    /// <summary>Takes the scenario's lines `DISK/FILE=TEXT`.</summary>
    public ShownRegisters(string printed) =>
        texts = printed.Split('\n', StringSplitOptions.RemoveEmptyEntries)
            .Select(line => line.Split('=', 2))
            .ToDictionary(parts => parts[0], parts => parts[1]);

    /// <summary>The text of a file of a disk.</summary>
    public string this[string disk, string file] => texts[$"{disk}/{file}"];
}

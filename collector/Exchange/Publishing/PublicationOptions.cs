namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>What a publication shows.</summary>
public sealed record PublicationOptions
{
    private const int LongestLink = 2_000;

    /// <summary>Keys of the columns in order; see <see cref="PublicationColumns"/>.</summary>
    public IReadOnlyList<string> Columns { get; init; } = PublicationColumns.Default;

    /// <summary>Tags of the cards whose rows are shown; empty shows every card. Ranks are always among all cards.</summary>
    public IReadOnlyList<string> Cards { get; init; } = [];

    /// <summary>True shows what cards cost. Without it no price is in the table or in the raw records.</summary>
    public bool Prices { get; init; }

    /// <summary>Built-in profile the cards are ranked under.</summary>
    public string Profile { get; init; } = Analysis.Profiles.UseProfile.SystemDisk.Name;

    /// <summary>Where the evidence will be found, absolute http or https; null while nobody said.</summary>
    public string? Link { get; init; }

    /// <summary>True for an absolute http or https address without characters that a page or Markdown would read in another way.</summary>
    public static bool IsLink(string text) =>
        text.Length <= LongestLink && Uri.TryCreate(text, UriKind.Absolute, out Uri? address) && address.Scheme is "https" or "http"
        && text.All(c => char.IsAscii(c) && !char.IsControl(c) && c is not (' ' or '<' or '>' or '"' or '\\'));
}

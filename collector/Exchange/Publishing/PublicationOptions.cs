namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>What a publication shows.</summary>
public sealed record PublicationOptions
{
    /// <summary>Keys of the columns in order; see <see cref="PublicationColumns"/>.</summary>
    public IReadOnlyList<string> Columns { get; init; } = PublicationColumns.Default;

    /// <summary>Tags of the cards whose rows are shown; empty shows every card. Ranks are always among all cards.</summary>
    public IReadOnlyList<string> Cards { get; init; } = [];

    /// <summary>True shows what cards cost. Without it no price is in the table or in the raw records.</summary>
    public bool Prices { get; init; }

    /// <summary>Built-in profile the cards are ranked under.</summary>
    public string Profile { get; init; } = Analysis.Profiles.UseProfile.SystemDisk.Name;
}

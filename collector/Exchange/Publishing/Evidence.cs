using Cardassay.Collector.Analysis;
using Cardassay.Collector.Analysis.Profiles;
using Cardassay.Collector.Files;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>What a publication rests on and what it says, as kept in its zip.</summary>
internal sealed record Evidence
{
    /// <summary>Version of the collector that made it.</summary>
    internal required string MadeWith { get; init; }

    /// <summary>The time the publication speaks of, ns since 1970.</summary>
    internal required long AsOfUnixNs { get; init; }

    /// <summary>What it shows.</summary>
    internal required PublicationOptions Options { get; init; }

    /// <summary>A profile of the user's own as its file, or null for a built-in one.</summary>
    internal byte[]? ProfileFile { get; init; }

    /// <summary>The raw records without personal data. They can be gone through again and again.</summary>
    internal required IEnumerable<PublishedEntry> Entries { get; init; }

    /// <summary>How many of the entries are records.</summary>
    internal required int Records { get; init; }

    /// <summary>How many are what a person said or a collector noticed.</summary>
    internal required int Notes { get; init; }

    /// <summary>Records that could not be read and are not in it.</summary>
    internal int Unreadable { get; init; }

    /// <summary>The table as Markdown; empty where this evidence was read from a file, as are the others.</summary>
    internal string Markdown { get; init; } = "";

    /// <summary>The table as HTML.</summary>
    internal string Html { get; init; } = "";

    /// <summary>Every figure of every card as CSV.</summary>
    internal string Figures { get; init; } = "";

    /// <summary>The report of what is published; null where this evidence was read from a file.</summary>
    internal ReportModel? Report { get; init; }

    /// <summary>
    /// The tables in named pieces, where this evidence was computed here and not read from a file. Those of the trials, of which there may
    /// be millions, are made while they are gone through.
    /// </summary>
    internal (IReadOnlyList<Fragment> Markdown, IReadOnlyList<Fragment> Html, IEnumerable<Fragment> Trials)? Fragments { get; init; }

    /// <summary>Opens a file of the zip that this evidence was read from, one at a time; null where it was computed here.</summary>
    internal Func<string, Stream>? Open { get; init; }

    /// <summary>The profile the figures are ranked under.</summary>
    /// <exception cref="EvidenceException">There is no such profile, or its file cannot be used.</exception>
    internal UseProfile Profile()
    {
        if (ProfileFile is { } file)
        {
            try
            {
                return Analysis.Profiles.ProfileFile.Parse(file, "profile.json");
            }
            catch (ProfileFileException e)
            {
                throw new EvidenceException(e.Message);
            }
        }

        return UseProfile.Named(Options.Profile) ?? throw new EvidenceException($"There is no profile \"{Options.Profile}\" in this version.");
    }

    /// <summary>The master data of the raw records.</summary>
    internal MasterData Data()
    {
        using var store = new SpooledStore(Entries.Select(e => e.Entry));
        return MasterDataLoader.Load(store, MasterDataLoader.Time(AsOfUnixNs));
    }
}

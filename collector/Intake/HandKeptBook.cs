using System.Globalization;
using Cardassay.Collector.Analysis;
using Cardassay.Trials;

namespace Cardassay.Collector.Intake;

/// <summary>The imports of figures kept by hand as the events tell them: what counts, and what was taken back.</summary>
internal sealed class HandKeptBook
{
    private readonly List<Import> _imports = [];

    /// <summary>All imports in the order they were made.</summary>
    internal IReadOnlyList<Import> Imports => _imports;

    /// <summary>Takes in one event; any other kind is none of its business.</summary>
    internal void Add(V1.OperatorEvent message, long atUnixNs)
    {
        if (message.HandKept is { } kept)
        {
            Import? known = _imports.Find(i => i.Id == kept.ImportId);
            if (known is null)
            {
                _imports.Add(known = new Import(kept.ImportId, kept.Source, Convert.ToHexStringLower(kept.SourceSha256.Span), atUnixNs, message.Origin));
            }

            known.Figures.AddRange(kept.Figures);
            known.Replaces.UnionWith(kept.Replaces);
        }
        else if (message.ImportWithdrawn is { } withdrawn && _imports.Find(i => i.Id == withdrawn.ImportId) is { } gone)
        {
            gone.IsWithdrawn = true;
        }
        else
        {
            return;
        }

        Settle();
    }

    /// <summary>An import stands back for a newer version of its file, as long as that one counts itself. A newer one comes later in the log.</summary>
    private void Settle()
    {
        var replaced = new Dictionary<string, string>(StringComparer.Ordinal);
        for (int i = _imports.Count - 1; i >= 0; i--)
        {
            Import import = _imports[i];
            import.ReplacedBy = replaced.GetValueOrDefault(import.Id);
            foreach (string older in import.Counts ? import.Replaces : [])
            {
                replaced[older] = import.Id;
            }
        }
    }

    /// <summary>The figures that count, in the order of the imports.</summary>
    internal IReadOnlyList<HandKeptResult> Results() =>
    [
        .. from import in _imports
           where import.Counts
           from figure in import.Figures
           select new HandKeptResult
           {
               Tag = figure.Tag,
               Kind = (TrialKind)figure.Kind,
               Value = figure.Value,
               Origin = import.Origin,
               Provenance = string.Create(CultureInfo.InvariantCulture, $"{import.Source} line {figure.Line}: {figure.AsWritten}"),
               Day = figure.HasDay && DateOnly.TryParseExact(figure.Day, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out DateOnly day)
                   ? day
                   : null,
           },
    ];

    /// <summary>One import.</summary>
    /// <param name="Id">What withdraws it.</param>
    /// <param name="Source">Name of the file.</param>
    /// <param name="SourceHash">SHA-256 of the file, hex.</param>
    /// <param name="AtUnixNs">When it was made, ns since 1970.</param>
    /// <param name="Origin">Collector it was taken over from; "" for an own one.</param>
    internal sealed record Import(string Id, string Source, string SourceHash, long AtUnixNs, string Origin)
    {
        internal List<V1.HandKeptFigure> Figures { get; } = [];

        /// <summary>Imports of older versions of the file.</summary>
        internal HashSet<string> Replaces { get; } = new(StringComparer.Ordinal);

        /// <summary>True when a person took it back.</summary>
        internal bool IsWithdrawn { get; set; }

        /// <summary>The import that took its place; null when none did.</summary>
        internal string? ReplacedBy { get; set; }

        /// <summary>True when its figures count.</summary>
        internal bool Counts => !IsWithdrawn && ReplacedBy is null;
    }
}

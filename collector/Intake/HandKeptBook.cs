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
        }
        else if (message.ImportWithdrawn is { } withdrawn && _imports.Find(i => i.Id == withdrawn.ImportId) is { } gone)
        {
            gone.IsWithdrawn = true;
        }
    }

    /// <summary>The figures that count, in the order of the imports.</summary>
    internal IReadOnlyList<HandKeptResult> Results() =>
    [
        .. from import in _imports
           where !import.IsWithdrawn
           from figure in import.Figures
           select new HandKeptResult
           {
               Tag = figure.Tag,
               Kind = (TrialKind)figure.Kind,
               Value = figure.Value,
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

        internal bool IsWithdrawn { get; set; }
    }
}

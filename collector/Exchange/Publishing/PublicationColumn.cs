using Cardassay.Collector.Report.Model;

namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>One column a publication can show.</summary>
/// <param name="Key">What the command line calls it.</param>
/// <param name="Heading">Heading with the unit.</param>
/// <param name="IsNumber">True when cells are right-aligned.</param>
/// <param name="Meaning">For `--help-columns`.</param>
/// <param name="Cell">The cell of a card.</param>
public sealed record PublicationColumn(string Key, string Heading, bool IsNumber, string Meaning, Func<ReportCard, string> Cell);

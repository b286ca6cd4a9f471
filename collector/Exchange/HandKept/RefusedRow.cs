namespace Cardassay.Collector.Exchange.HandKept;

/// <summary>A row, or a cell of it, that was not taken.</summary>
/// <param name="Line">Line of the file, from 1.</param>
/// <param name="Why">Why, as a sentence that says what to do.</param>
internal sealed record RefusedRow(int Line, string Why);

namespace Cardassay.Demo;

/// <summary>Everything one board wrote in the three nights, in order.</summary>
internal sealed record BoardRecords(Board Board, IReadOnlyList<Stamped> Records);

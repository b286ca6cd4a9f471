namespace Cardassay.Collector.Intake;

/// <summary>How far the store is behind the intake log.</summary>
/// <param name="Entries">Durable entries that are not in the store yet.</param>
/// <param name="Age">How long it has been behind without a break; zero when it is not.</param>
internal readonly record struct ApplyLag(long Entries, TimeSpan Age);

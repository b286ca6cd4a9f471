namespace Cardassay.Collector.Analysis.Cards;

/// <summary>
/// One statistical test that was made. Whether it becomes a finding is decided when all tests of the same check over all cards are
/// known, so that a clean laboratory of any size sees a false one in at most 1 % of cases.
/// </summary>
/// <param name="Check">Id of the check.</param>
/// <param name="P">p of this test.</param>
/// <param name="Finding">What it would say, or null when the effect is too small to matter.</param>
internal sealed record TestCandidate(string Check, double P, Func<CardFinding>? Finding);

namespace Cardassay.Agent.Commands;

/// <summary>One thing a member can or cannot do.</summary>
/// <param name="Works">True when it works.</param>
/// <param name="Sentence">What, and if it does not, why and what to do.</param>
internal sealed record JoinCheck(bool Works, string Sentence);

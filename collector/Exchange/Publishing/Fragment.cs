namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>A piece of a published text and what a person calls it, so that a check can name what differs.</summary>
/// <param name="Text">The piece as printed.</param>
/// <param name="Name">"card T-07, Random read, IOPS".</param>
public sealed record Fragment(string Text, string Name);

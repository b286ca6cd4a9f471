namespace Cardassay.Collector.Exchange.Publishing;

/// <summary>One entry as published.</summary>
/// <param name="Entry">The entry without what names people, machines and places.</param>
/// <param name="JournaledSha256">SHA-256 of the record exactly as the board journaled it, hex; "" for an event. Its owner can show the original to it.</param>
internal sealed record PublishedEntry(V1.IntakeEntry Entry, string JournaledSha256);

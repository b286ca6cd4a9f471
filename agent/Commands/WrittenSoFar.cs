using System.Globalization;
using Cardassay.Agent.Trials;

namespace Cardassay.Agent.Commands;

/// <summary>What a run that is going on has written: to the beginning of the step it is at, so never too much.</summary>
/// <param name="Bytes">Bytes.</param>
/// <param name="SinceWholeBytes">Of these since it had written the device whole; null when it did not.</param>
/// <param name="Filled">Pieces written from end to end.</param>
internal sealed record WrittenSoFar(long Bytes, long? SinceWholeBytes, FilledPieces Filled)
{
    internal static WrittenSoFar Nothing { get; } = new(0, null, FilledPieces.None);

    /// <summary>Reads what <see cref="ToString"/> wrote; nothing where it is not that.</summary>
    internal static WrittenSoFar Parse(string text) =>
        text.Split(';') is [var bytes, var since, var pieces] && Number(bytes) is { } written && FilledPieces.Parse(pieces) is { } filled
            ? new WrittenSoFar(written, Number(since), filled)
            : Nothing;

    /// <inheritdoc/>
    public override string ToString() => string.Create(CultureInfo.InvariantCulture, $"{Bytes};{SinceWholeBytes};{Filled}");

    private static long? Number(string text) => long.TryParse(text, NumberStyles.None, CultureInfo.InvariantCulture, out long number) ? number : null;
}

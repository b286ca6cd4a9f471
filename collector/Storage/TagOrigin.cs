namespace Cardassay.Collector.Storage;

/// <summary>
/// Whose sticker a tag is. Two laboratories number their cards alike, so the T-10 of another collector is "T-10@collector" here until a person or the card's
/// own registers say that it is the same card as ours.
/// </summary>
internal static class TagOrigin
{
    /// <summary>The name of a tag. One that names a collector already, because a person there spoke of a third one's card, keeps it.</summary>
    internal static string Join(string tag, string origin) => tag.Contains(BoardOrigin.Mark, StringComparison.Ordinal) ? tag : BoardOrigin.Join(tag, origin);

    /// <summary>The collector whose sticker a name is; "" for this one's own.</summary>
    internal static string OriginOf(string name)
    {
        int at = name.LastIndexOf(BoardOrigin.Mark);
        return at < 0 ? "" : name[(at + 1)..];
    }
}

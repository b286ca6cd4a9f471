using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Boards;

/// <summary>Whether a caller may speak under the name it gives.</summary>
internal static class CallerName
{
    /// <summary>Why not, in one sentence, or null when it may: the certificate's name and the message's must be the same.</summary>
    internal static string? WhyNot(HttpContext http, string name, TrustBook book)
    {
        if (http.Features.Get<Member>() is { } member)
        {
            return name == member.Board
                ? null
                : $"This board's certificate stands for {member.Board}, but the message says it comes from \"{BoardNames.Clean(name)}\".";
        }

        string clean = BoardNames.Clean(name);
        return book.EverJoined(clean) ? $"Board {clean} joined with a certificate: plain text is refused under its name." : null;
    }
}

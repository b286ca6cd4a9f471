using System.Net;
using Cardassay.Collector.Boards;

namespace Cardassay.Collector.Commands;

/// <summary>
/// Lets readers of other machines to the page, and to nothing else. The first visit brings the token of a link and leaves with a cookie, so
/// that no address a person copies or a browser keeps holds it.
/// </summary>
internal sealed class ReaderGate(ReaderBook book, RefusalLog refusals)
{
    /// <summary>What the token is called in a link.</summary>
    internal const string Key = "key";

    /// <summary>"__Host-" binds a cookie to this very host and to TLS (RFC 6265bis, section 4.1.3.2).</summary>
    internal const string Cookie = "__Host-cardassay-reader";

    private static readonly string[] Shown = ["/", "/events", "/report", "/card", "/live.css", "/live.js", "/favicon.ico"];

    /// <summary>A browser keeps no cookie longer (RFC 6265bis, section 5.5).</summary>
    private static readonly TimeSpan CookieLife = TimeSpan.FromDays(400);

    /// <summary>Answers a request, or hands it on.</summary>
    internal async Task PassAsync(HttpContext context, RequestDelegate next)
    {
        string path = context.Request.Path.Value ?? "";
        if (IsForThisMachine(path) && context.Connection.RemoteIpAddress is { } from && IPAddress.IsLoopback(from))
        {
            await next(context);
            return;
        }

        if (!Shown.Contains(path))
        {
            context.Response.StatusCode = StatusCodes.Status404NotFound;
            return;
        }

        string? brought = path == "/" ? context.Request.Query[Key].FirstOrDefault() : null;
        if ((brought ?? context.Request.Cookies[Cookie]) is not { Length: > 0 } token || book.Admit(token) is not { } reader)
        {
            refusals.Refused(context.Connection.RemoteIpAddress, "the page", "no link, or one that no longer counts");
            context.Response.StatusCode = StatusCodes.Status403Forbidden;
            await context.Response.WriteAsync("This page opens with a link only: `cardassay-collector invite --reader NAME` "
                + "on the bench makes one.\n");
            return;
        }

        if (brought is not null)
        {
            await EnterAsync(context, token);
            return;
        }

        // What is open ends with the link, the stream of the page too.
        await using CancellationTokenRegistration end = reader.ShutOut.Register(context.Abort);
        await next(context);
    }

    private static bool IsForThisMachine(string path) => path == "/metrics" || path.StartsWith("/health/", StringComparison.Ordinal);

    private static async Task EnterAsync(HttpContext context, string token)
    {
        context.Response.Cookies.Append(Cookie, token, new CookieOptions
        {
            HttpOnly = true,
            Secure = true,
            SameSite = SameSiteMode.Strict,
            Path = "/",
            MaxAge = CookieLife,
            IsEssential = true,
        });
        if (context.Request.Headers["Sec-Fetch-Site"].FirstOrDefault() is null or "none" or "same-origin")
        {
            context.Response.StatusCode = StatusCodes.Status303SeeOther;
            context.Response.Headers.Location = "/";
            return;
        }

        // Followed from a mail in the browser: a redirect would still be of that site's making, and a strict cookie stays at home then.
        context.Response.ContentType = "text/html; charset=utf-8";
        await context.Response.WriteAsync("<!doctype html><html lang=en><head><meta charset=utf-8>"
            + "<meta http-equiv=refresh content=\"0;url=/\"><title>Cardassay</title></head><body>"
            + "<a href=\"/\">To the page</a></body></html>\n");
    }
}

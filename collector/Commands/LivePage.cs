using System.Globalization;
using System.Net;
using System.Text;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Commands;

/// <summary>The read-only page, health and metrics on loopback.</summary>
internal static class LivePage
{
    internal static void Map(WebApplication app)
    {
        app.Use(async (context, next) =>
        {
            // Names resolve anywhere: only a request that names this machine is answered (no rebinding from a web page).
            bool isPage = context.Features.Get<ListenerFeature>()?.Kind == ListenerKind.Page;
            if (!isPage && !IsCall(context))
            {
                context.Response.StatusCode = StatusCodes.Status404NotFound; // boards deliver; the page has a door of its own
                return;
            }

            if (isPage && !(context.Request.Host.Host is "localhost" || IPAddress.TryParse(context.Request.Host.Host.Trim('[', ']'), out _)))
            {
                context.Response.StatusCode = StatusCodes.Status421MisdirectedRequest;
                return;
            }

            if (isPage)
            {
                context.Response.Headers.ContentSecurityPolicy = "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data:";
                context.Response.Headers.XContentTypeOptions = "nosniff";
            }

            await next(context);
        });
        HealthPage.Map(app);
        if (app.Services.GetService<CollectorMetrics>() is not null)
        {
            app.MapPrometheusScrapingEndpoint("/metrics");
        }

        app.MapGet("/report", async (Projection projection, ReportDesk reports, CancellationToken cancellationToken) =>
        {
            try
            {
                await projection.CaughtUpAsync(cancellationToken);
                string html = await Task.Run(
                    () => reports.Render(projection.Read(store => MasterDataLoader.Load(store)), new V1.ReportRequest { Format = "html" }),
                    cancellationToken);
                return Results.Content(html, "text/html; charset=utf-8");
            }
            catch (StoreUnavailableException e)
            {
                return Results.Text(e.Message + "\n", statusCode: StatusCodes.Status503ServiceUnavailable);
            }
        });
        app.MapGet("/", (BoardRegistry boards, DeliverySessions sessions, TimeProvider time) =>
            Results.Content(Page(boards, sessions, time.GetUtcNow()), "text/html; charset=utf-8"));
    }

    private static bool IsCall(HttpContext context) =>
        context.Request.Path.Value?.StartsWith("/cardassay.v1.", StringComparison.Ordinal) == true;

    private static string Page(BoardRegistry boards, DeliverySessions sessions, DateTimeOffset now)
    {
        Func<string, bool> connected = sessions.Look().IsOpen;
        var rows = new StringBuilder();
        foreach (BoardState board in boards.All())
        {
            V1.Progress? progress = board.Presence?.Progress;
            string doing = progress is null
                ? "idle"
                : string.Create(CultureInfo.InvariantCulture, $"{progress.Step}, {progress.Fraction * 100:0} %");
            rows.Append(CultureInfo.InvariantCulture, $"<tr><th scope=\"row\">{WebUtility.HtmlEncode(board.Name)}</th>")
                .Append(CultureInfo.InvariantCulture, $"<td>{(connected(board.Name) ? "connected" : "away")}</td>")
                .Append(CultureInfo.InvariantCulture, $"<td>{Math.Max(0, (now - board.LastSeen).TotalSeconds):0} s ago</td>")
                .Append(CultureInfo.InvariantCulture, $"<td>{WebUtility.HtmlEncode(doing)}</td>")
                .Append(CultureInfo.InvariantCulture, $"<td class=\"n\">{board.RecordsSinceStart}</td></tr>\n");
        }

        string body = rows.Length == 0
            ? "<p>No board has reported since this collector started.</p>"
            : $"<table><caption>Boards heard of since this collector started</caption><thead><tr><th scope=\"col\">Board</th><th scope=\"col\">Stream</th>"
                + $"<th scope=\"col\">Last heard</th><th scope=\"col\">Doing</th><th scope=\"col\">Records</th></tr></thead><tbody>\n{rows}</tbody></table>";
        return $$"""
            <!doctype html>
            <html lang="en">
            <head>
            <meta charset="utf-8">
            <meta name="viewport" content="width=device-width, initial-scale=1">
            <meta http-equiv="refresh" content="5">
            <title>Cardassay collector</title>
            <style>
            :root { color-scheme: light dark; }
            body { font: 1rem/1.5 system-ui, sans-serif; margin: 2rem auto; max-width: 60rem; padding: 0 1rem; }
            table { border-collapse: collapse; width: 100%; }
            caption { text-align: left; padding-bottom: .5rem; }
            th, td { text-align: left; padding: .35rem .75rem .35rem 0; border-bottom: 1px solid color-mix(in srgb, currentColor 25%, transparent); }
            .n { text-align: right; font-variant-numeric: tabular-nums; }
            </style>
            </head>
            <body>
            <h1>Cardassay collector</h1>
            {{body}}
            <p><a href="/report">The report as it stands now</a></p>
            </body>
            </html>

            """;
    }
}

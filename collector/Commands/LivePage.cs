using System.Globalization;
using System.Net;
using System.Net.ServerSentEvents;
using System.Text;
using Cardassay.Collector.Analysis;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Intake;
using Cardassay.Collector.Live;
using Cardassay.Collector.Observability;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Html;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Commands;

/// <summary>
/// The read-only page, its stream and the reports, on loopback or for those who have a link; health and metrics for this machine.
/// </summary>
internal static class LivePage
{
    private static readonly string Style = PageAsset.Style("live.css");
    private static readonly string Script = PageAsset.Text("live.js");

    private static readonly string ReportPolicy = HtmlReport.Policy + "; frame-ancestors 'none'";

    private static readonly Dictionary<string, string> Types = new(StringComparer.Ordinal)
    {
        ["html"] = "text/html; charset=utf-8",
        ["terminal"] = "text/plain; charset=utf-8",
        ["markdown"] = "text/markdown; charset=utf-8",
        ["csv"] = "text/csv; charset=utf-8",
        ["json"] = "application/json; charset=utf-8",
    };

    internal static void Map(WebApplication app)
    {
        app.Use(GuardAsync);
        HealthPage.Map(app);
        if (app.Services.GetService<CollectorMetrics>() is not null)
        {
            app.MapPrometheusScrapingEndpoint("/metrics");
        }

        app.MapGet("/favicon.ico", () => Results.NoContent()); // browsers ask for it unasked
        app.MapGet("/live.css", () => Results.Content(Style, "text/css; charset=utf-8"));
        app.MapGet("/live.js", () => Results.Content(Script, "text/javascript; charset=utf-8"));
        app.MapGet("/", async (LiveDesk desk, CancellationToken cancellationToken) =>
            Results.Content(LiveHtml.Document(await desk.LookAsync(cancellationToken)), "text/html; charset=utf-8"));
        app.MapGet("/events", (LiveDesk desk, IHostApplicationLifetime lifetime, CancellationToken cancellationToken) =>
        {
            return desk.Watch(lifetime.ApplicationStopping, cancellationToken) is { } parts
                ? TypedResults.ServerSentEvents(parts, "parts")
                : Results.Text("Too many pages are open; close one and try again.\n", statusCode: StatusCodes.Status503ServiceUnavailable);
        });
        app.MapGet("/report", ReportAsync);
        app.MapGet("/card", CardAsync);
    }

    private static async Task GuardAsync(HttpContext context, RequestDelegate next)
    {
        // Names resolve anywhere: only a request that names this machine is answered (no rebinding from a web page).
        ListenerKind? door = context.Features.Get<ListenerFeature>()?.Kind;
        bool isPage = door is ListenerKind.Page or ListenerKind.Readers;
        if (!isPage && !IsCall(context))
        {
            context.Response.StatusCode = StatusCodes.Status404NotFound; // boards deliver; the page has a door of its own
            return;
        }

        if (door == ListenerKind.Page
            && !(context.Request.Host.Host is "localhost" || IPAddress.TryParse(context.Request.Host.Host.Trim('[', ']'), out _)))
        {
            context.Response.StatusCode = StatusCodes.Status421MisdirectedRequest;
            return;
        }

        if (isPage)
        {
            context.Response.Headers.ContentSecurityPolicy = LiveHtml.Policy;
            context.Response.Headers.XContentTypeOptions = "nosniff";
            context.Response.Headers["Referrer-Policy"] = "no-referrer";
            context.Response.Headers["Cross-Origin-Resource-Policy"] = "same-origin";
            context.Response.Headers.CacheControl = "no-store";
        }

        await (door == ListenerKind.Readers
            ? context.RequestServices.GetRequiredService<ReaderGate>().PassAsync(context, next)
            : next(context));
    }

    private static bool IsCall(HttpContext context) =>
        context.Request.Path.Value?.StartsWith("/cardassay.v1.", StringComparison.Ordinal) == true;

    private static async Task<IResult> ReportAsync(
        HttpContext context, Projection projection, ReportDesk reports, CancellationToken cancellationToken, string? night = null,
        string format = "html")
    {
        if (!Types.TryGetValue(format, out string? type))
        {
            return Results.Text($"There is no rendering of that name; use {string.Join(", ", Types.Keys)}.\n",
                statusCode: StatusCodes.Status400BadRequest);
        }

        DateOnly day = default;
        if (night is not null && !DateOnly.TryParseExact(night, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out day))
        {
            return Results.Text("A night is named by the day it begins, for example night=2031-03-12.\n",
                statusCode: StatusCodes.Status400BadRequest);
        }

        var request = new V1.ReportRequest { Format = format };
        return await ReadAsync(
            context,
            projection,
            data => night is null ? reports.Render(data, request, isServed: true) : reports.RenderNight(data, request, day),
            report => Results.Stream(to => report.WriteAsync(to, cancellationToken), type),
            "Nothing was measured in that night; the page lists the nights there are.",
            cancellationToken);
    }

    private static Task<IResult> CardAsync(
        HttpContext context, Projection projection, ReportDesk reports, CancellationToken cancellationToken, string name = "") => ReadAsync(
            context,
            projection,
            data => reports.CardPage(data, name),
            page => Results.Content(page, Types["html"]),
            "There is no card of that name; the report lists the cards there are.",
            cancellationToken);

    /// <summary>Shows what is made of the data, or says why it does not.</summary>
    /// <param name="context">Of the request.</param>
    /// <param name="projection">Where the data are.</param>
    /// <param name="make">Makes it; null when there is no such thing.</param>
    /// <param name="show">Shows it.</param>
    /// <param name="none">What is said when there is no such thing.</param>
    /// <param name="cancellationToken">Ends the reading.</param>
    private static async Task<IResult> ReadAsync<T>(
        HttpContext context, Projection projection, Func<MasterData, T?> make, Func<T, IResult> show, string none,
        CancellationToken cancellationToken)
        where T : class
    {
        T? made;
        try
        {
            made = await projection.ReadCaughtUpAsync(store => projection.Load(store), make, cancellationToken);
        }
        catch (StoreUnavailableException e)
        {
            return Results.Text(e.Message + "\n", statusCode: StatusCodes.Status503ServiceUnavailable);
        }

        if (made is null)
        {
            return Results.Text(none + "\n", statusCode: StatusCodes.Status404NotFound);
        }

        context.Response.Headers.ContentSecurityPolicy = ReportPolicy;
        return show(made);
    }
}

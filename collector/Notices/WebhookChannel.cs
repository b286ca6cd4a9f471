using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Cardassay.Collector.Notices.Morning;
using Cardassay.Collector.Report;
using Cardassay.Collector.Report.Model;
using Cardassay.Trust;

namespace Cardassay.Collector.Notices;

/// <summary>
/// Posts a message as JSON. Headers: Idempotency-Key (the same for every attempt), Cardassay-Time (seconds since 1970) and
/// Cardassay-Signature ("sha256=" and the hex HMAC-SHA256 under the secret over the time, a line feed and the body), so that a
/// receiver can tell who sent it, and refuse old messages sent again.
/// </summary>
internal sealed class WebhookChannel : INoticeChannel, IDisposable
{
    private readonly WebhookSettings _settings;
    private readonly TimeProvider _time;
    private readonly HttpClient _http;
    private readonly MorningShelf? _reports;

    /// <param name="settings">Where it is.</param>
    /// <param name="time">The clock.</param>
    /// <param name="reports">Where reports are kept; null when none goes this way.</param>
    internal WebhookChannel(WebhookSettings settings, TimeProvider time, MorningShelf? reports = null)
    {
        _reports = reports;
        _settings = settings;
        _time = time;

        // A redirect could carry a signed message to another host; an answer is of no interest beyond its status.
        _http = new HttpClient(new SocketsHttpHandler { AllowAutoRedirect = false, UseCookies = false })
        {
            Timeout = settings.Timeout,
            MaxResponseContentBufferSize = 64 << 10,
        };
    }

    public string Name => "webhook";

    public bool Takes(NoticeKind kind) => kind != NoticeKind.Morning || _reports is not null;

    public async Task<SendOutcome> SendAsync(Notice notice, CancellationToken cancellationToken)
    {
        MorningReport? report = notice.Night is null ? null : _reports?.Find(notice.Key);
        if (notice.Night is not null && report is null)
        {
            return SendOutcome.Never("The report is no longer kept.");
        }

        byte[] body = Body(notice, report);
        string at = _time.GetUtcNow().ToUnixTimeSeconds().ToString(CultureInfo.InvariantCulture);
        using var request = new HttpRequestMessage(HttpMethod.Post, _settings.Url)
        {
            Content = new ByteArrayContent(body) { Headers = { ContentType = new MediaTypeHeaderValue("application/json") } },
        };
        request.Headers.Add("Idempotency-Key", notice.Key);
        request.Headers.Add("Cardassay-Time", at);
        request.Headers.Add("Cardassay-Signature", "sha256=" + Sign(_settings.Secret, at, body));
        try
        {
            using HttpResponseMessage response = await _http.SendAsync(request, HttpCompletionOption.ResponseHeadersRead,
                cancellationToken);
            string problem = string.Create(CultureInfo.InvariantCulture, $"{_settings.Url.Host} answered {(int)response.StatusCode}.");
            return response.IsSuccessStatusCode ? SendOutcome.Done
                : response.StatusCode is HttpStatusCode.RequestTimeout or HttpStatusCode.TooManyRequests || (int)response.StatusCode >= 500
                    || (int)response.StatusCode == 425
                    ? SendOutcome.Later(problem)
                    : SendOutcome.Never(problem);
        }
        catch (HttpRequestException e)
        {
            return SendOutcome.Later($"{_settings.Url.Host} was not reached: {e.HttpRequestError}.");
        }
        catch (OperationCanceledException) when (!cancellationToken.IsCancellationRequested)
        {
            return SendOutcome.Later(string.Create(CultureInfo.InvariantCulture,
                $"{_settings.Url.Host} did not answer within {_settings.Timeout.TotalSeconds:0} s."));
        }
    }

    /// <summary>The signature of a body sent at a time.</summary>
    internal static string Sign(byte[] secret, string at, byte[] body)
    {
        byte[] head = Encoding.ASCII.GetBytes(at + "\n");
        return Convert.ToHexStringLower(HMACSHA256.HashData(secret, (byte[])[.. head, .. body]));
    }

    public void Dispose() => _http.Dispose();

    private static byte[] Body(Notice notice, MorningReport? report)
    {
        using var buffer = new MemoryStream();
        using (var json = new Utf8JsonWriter(buffer))
        {
            json.WriteStartObject();
            json.WriteString("format", "cardassay-notice");
            json.WriteNumber("version", 1);
            json.WriteString("key", notice.Key);
            json.WriteString("kind", Notice.NameOf(notice.Kind));
            json.WriteString("at", notice.At.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture));
            json.WriteString("title", notice.Title);
            json.WriteString("text", notice.Text);
            if (report is not null)
            {
                FirstPage(json, report);
            }

            json.WriteEndObject();
        }

        return buffer.ToArray();
    }

    /// <summary>Named as in the JSON of the report.</summary>
    private static void FirstPage(Utf8JsonWriter json, MorningReport report)
    {
        json.WriteString("night", report.Night);
        json.WriteString("span", report.Span);
        json.WriteString("generatedFor", report.GeneratedFor);
        json.WriteString("profile", report.Profile);
        json.WriteBoolean("invented", report.Invented.Length > 0);
        json.WriteNumber("verdictsNew", report.VerdictsNew);
        json.WriteNumber("needsPerson", report.NeedsPerson);
        json.WritePropertyName("firstPage");
        JsonSerializer.Serialize(json, [.. report.FirstPage.Select(p => p with { Lines = [.. p.Lines.Select(PlainText.Clean)] })],
            JsonReport.TypeOf<IReadOnlyList<FirstPagePart>>());
    }
}

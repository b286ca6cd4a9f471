using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;

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

    internal WebhookChannel(WebhookSettings settings, TimeProvider time)
    {
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

    public async Task<SendOutcome> SendAsync(Notice notice, CancellationToken cancellationToken)
    {
        byte[] body = Body(notice);
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
            using HttpResponseMessage response = await _http.SendAsync(request, HttpCompletionOption.ResponseHeadersRead, cancellationToken);
            string problem = string.Create(CultureInfo.InvariantCulture, $"{_settings.Url.Host} answered {(int)response.StatusCode}.");
            return response.IsSuccessStatusCode ? SendOutcome.Done
                : response.StatusCode is HttpStatusCode.RequestTimeout or HttpStatusCode.TooManyRequests || (int)response.StatusCode >= 500 || (int)response.StatusCode == 425
                    ? SendOutcome.Later(problem)
                    : SendOutcome.Never(problem);
        }
        catch (HttpRequestException e)
        {
            return SendOutcome.Later($"{_settings.Url.Host} was not reached: {e.HttpRequestError}.");
        }
        catch (OperationCanceledException) when (!cancellationToken.IsCancellationRequested)
        {
            return SendOutcome.Later(string.Create(CultureInfo.InvariantCulture, $"{_settings.Url.Host} did not answer within {_settings.Timeout.TotalSeconds:0} s."));
        }
    }

    /// <summary>The signature of a body sent at a time.</summary>
    internal static string Sign(byte[] secret, string at, byte[] body)
    {
        byte[] head = Encoding.ASCII.GetBytes(at + "\n");
        return Convert.ToHexStringLower(HMACSHA256.HashData(secret, (byte[])[.. head, .. body]));
    }

    public void Dispose() => _http.Dispose();

    private static byte[] Body(Notice notice)
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
            json.WriteEndObject();
        }

        return buffer.ToArray();
    }
}

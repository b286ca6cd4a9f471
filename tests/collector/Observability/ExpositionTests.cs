namespace Cardassay.Collector.Tests.Observability;

/// <summary>The reader the metrics are checked with: the description's own example is read, and what it forbids is refused.</summary>
public sealed class ExpositionTests
{
    [Fact]
    public void Parse_TextAllowed_IsRead()
    {
        Exposition read = Exposition.Parse("""
            # HELP http_requests_total The total number of requests.
            # TYPE http_requests_total counter
            http_requests_total{method="post",code="200"} 1027 1395066363000
            http_requests_total{method="post",code="400"}    3 1395066363000

            # Escaping in label values:
            msdos_file_access_time_seconds{path="C:\\DIR\\FILE.TXT",error="Cannot find file:\n\"FILE.TXT\""} 1.458255915e9
            metric_without_timestamp_and_labels 12.47
            something_weird{problem="division by zero"} +Inf -3982045
            # TYPE wait_seconds histogram
            wait_seconds_bucket{le="0.05"} 24
            wait_seconds_bucket{le="+Inf"} 30
            wait_seconds_sum 3
            wait_seconds_count 30

            """);
        Assert.Equal(9, read.Samples.Count);
        Assert.Equal(1027, read.Value("http_requests_total", ("code", "200")));
        Assert.Equal("Cannot find file:\n\"FILE.TXT\"", read.Samples[2].Labels["error"]);
    }

    [Theory]
    [InlineData("a 1")]
    [InlineData("a 1\r\n")]
    [InlineData("1a 1\n")]
    [InlineData("a one\n")]
    [InlineData("a{b=\"c} 1\n")]
    [InlineData("a{b=\"\\t\"} 1\n")]
    [InlineData("a{b=c} 1\n")]
    [InlineData("a{b-c=\"d\"} 1\n")]
    [InlineData("a{b=\"1\",b=\"2\"} 1\n")]
    [InlineData("a 1\na 2\n")]
    [InlineData("# TYPE a info\na 1\n")]
    [InlineData("# TYPE a gauge\n# TYPE a gauge\na 1\n")]
    [InlineData("a 1\n# TYPE a gauge\n")]
    [InlineData("# HELP a x\n# HELP a y\na 1\n")]
    [InlineData("a{x=\"1\"} 1\nb 1\na{x=\"2\"} 1\n")]
    [InlineData("# TYPE a counter\na -1\n")]
    [InlineData("# TYPE a histogram\na_bucket{le=\"1\"} 1\na_sum 1\na_count 1\n")]
    [InlineData("# TYPE a histogram\na_bucket{le=\"1\"} 2\na_bucket{le=\"+Inf\"} 1\na_sum 1\na_count 1\n")]
    public void Parse_TextForbidden_IsRefused(string text) => Assert.ThrowsAny<Exception>(() => Exposition.Parse(text));
}

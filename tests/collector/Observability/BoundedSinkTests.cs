using System.Globalization;
using Cardassay.Collector.Observability;
using Serilog;
using Serilog.Core;
using Serilog.Formatting.Display;

namespace Cardassay.Collector.Tests.Observability;

public sealed class BoundedSinkTests
{
    [Fact]
    public void Text_FromElsewhere_MakesOneLineAndNotALongOne()
    {
        using var written = new StringWriter(CultureInfo.InvariantCulture);
        using (Logger log = new LoggerConfiguration().WriteTo.Sink(new BoundedSink(
            new WriterSink(new MessageTemplateTextFormatter("{Message:lj}{NewLine}", CultureInfo.InvariantCulture), written), TimeProvider.System)).CreateLogger())
        {
            log.Warning("Board {Board} broke the protocol: {Problem}", "bench", "first\r\n2031-03-12 FTL forged\u001b[31m");
            log.Warning("Board {Board} broke the protocol: {Problem}", "bench", new string('x', 100_000));
        }

        string[] lines = written.ToString().Split(Environment.NewLine, StringSplitOptions.RemoveEmptyEntries);
        Assert.Equal("Board bench broke the protocol: first\uFFFD\uFFFD2031-03-12 FTL forged\uFFFD[31m", lines[0]);
        Assert.Equal(2, lines.Length);
        Assert.InRange(lines[1].Length, BoundedSink.LongestText, BoundedSink.LongestText + 100);
    }
}

using System.Text.Json;

namespace Cardassay.EndToEnd.Tests;

/// <summary>A member's results through backup, loss of the collector, and restore.</summary>
[Collection("machine")]
public sealed class BackupTests : IDisposable
{
    private readonly Workshop _workshop = new();

    [Fact]
    public void Collector_LostAndRestored_HasTheSameReportAndItsBoardsGoOn()
    {
        string share = Directory.CreateDirectory(Path.Combine(_workshop.Root, "share")).FullName;
        (Running collector, string address) = _workshop.ServeTls();
        int port = int.Parse(address.Split(':')[^1], System.Globalization.CultureInfo.InvariantCulture);
        _workshop.Agent("join", _workshop.Invite("bench-1")).Expect(0);
        _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-1").Expect(0);
        string before = _workshop.Collector("report", "--json").Expect(0).Output;
        string made = _workshop.Collector("backup", share, "--every", "24").Expect(0).Output;
        Assert.Contains("every 24 h", JsonDocument.Parse(_workshop.Collector("status", "--json").Expect(0).Output).RootElement.GetProperty("backup").GetString(), StringComparison.Ordinal);
        collector.Kill();
        collector.Dispose();
        string backup = made.Split(':')[0];

        Assert.Contains("nothing is overwritten", _workshop.Collector("restore", backup, "--into", _workshop.CollectorData).Expect(1).Errors, StringComparison.Ordinal);
        Directory.Delete(_workshop.CollectorData, recursive: true);
        _workshop.Collector("restore", backup, "--into", _workshop.CollectorData).Expect(0);
        Assert.Equal(before, _workshop.Collector("report", "--json").Expect(0).Output);

        (collector, _) = _workshop.ServeTls(port);
        using (collector)
        {
            _workshop.Agent("measure", _workshop.Scratch, "--plan", _workshop.Plan, "--tag", "E-1").Expect(0);
            JsonElement integrity = _workshop.Report().GetProperty("integrity");
            Assert.Equal((2 * Workshop.RecordsOfRun, 0), (integrity.GetProperty("received").GetInt64(), integrity.GetProperty("gaps").GetInt64()));
        }
    }

    public void Dispose() => _workshop.Dispose();
}

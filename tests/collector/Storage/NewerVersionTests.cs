using System.Buffers.Binary;
using System.Diagnostics;
using System.Numerics;
using System.Security.Cryptography;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;
using Cardassay.Collector.Storage;
using Cardassay.Collector.Tests.Intake;
using Cardassay.Collector.Tests.Storage.Postgres;
using Cardassay.Fixtures;
using LiteDB;

namespace Cardassay.Collector.Tests.Storage;

/// <summary>
/// What a newer version left, met from the command line by this one: a sentence that says what to do, exit code 1, and every file as it was.
/// </summary>
[Collection("postgres")]
public sealed class NewerVersionTests(PostgresFixture fixture)
{
    private static readonly string[][] CommandLines = [["serve", "--listen", "off", "--page", "off"], ["report"], ["rebuild"], ["status"]];

    [Fact]
    public async Task LiteDb_OfANewerVersion_IsRefusedAndLeftAlone()
    {
        await using CollectorFixture collector = await FilledAsync(StoreChoice.LiteDb.Text);
        string path = new CollectorOptions { DataFolder = collector.Folder }.DatabasePath;
        SetLayout(path, 99);
        await RefusedAsync(collector.Folder, "layout 99", "Update this collector", path);

        // What the sentence names helps, and nothing is lost.
        Directory.Move(Path.GetDirectoryName(path)!, Path.Combine(collector.Folder, "newer-store"));
        Assert.Equal(20ul, (await collector.StatusAsync()).RecordsReceived);
        await collector.StartAgainAsync();
    }

    [Fact]
    public async Task LiteDb_OfAnOlderVersion_IsMadeAgainFromTheLog()
    {
        await using CollectorFixture collector = await FilledAsync(StoreChoice.LiteDb.Text);
        SetLayout(new CollectorOptions { DataFolder = collector.Folder }.DatabasePath, 0);
        Assert.Equal(20ul, (await collector.StatusAsync()).RecordsReceived);
        await collector.StartAgainAsync();
    }

    [SkippableFact]
    public async Task Postgres_OfANewerVersion_IsRefusedAndLeftAlone()
    {
        string store = fixture.Server.NewDatabase(), database = PostgresServer.NameOf(store);
        await using CollectorFixture collector = await FilledAsync(store);
        Assert.Equal(0, (await RunAsync(collector.Folder, "rebuild", "--store", store)).ExitCode); // from here on the folder remembers the store
        fixture.Server.Execute(database, "INSERT INTO cardassay.layout (version) VALUES (99)");
        await RefusedAsync(collector.Folder, "layout 99", "Update this collector", "nothing was changed");
        Assert.Equal(20L, fixture.Server.Execute(database, "SELECT count(*) FROM cardassay.records"));
        fixture.Server.Execute(database, "DELETE FROM cardassay.layout WHERE version = 99");
        await collector.StartAgainAsync();
        Assert.Equal(20ul, (await collector.StatusAsync()).RecordsReceived);
    }

    [Fact]
    public async Task IntakeLog_OfANewerVersion_IsRefusedAndLeftAlone()
    {
        await using CollectorFixture collector = await FilledAsync(StoreChoice.LiteDb.Text);
        string intake = Path.Combine(collector.Folder, "intake");
        string segment = Directory.EnumerateFiles(intake).Order(StringComparer.Ordinal).Last(f => new FileInfo(f).Length > 76);
        byte[] original = await File.ReadAllBytesAsync(segment);
        await File.WriteAllBytesAsync(segment, OfFormat(original, 99));
        await RefusedAsync(collector.Folder, "log format 99", "use the version that wrote it or a newer one", Path.GetFileName(segment));
        await File.WriteAllBytesAsync(segment, original);
        await collector.StartAgainAsync();
        Assert.Equal(20ul, (await collector.StatusAsync()).RecordsReceived);
    }

    private static async Task<CollectorFixture> FilledAsync(string store)
    {
        CollectorFixture collector = await CollectorFixture.StartAsync(store);
        byte[] epoch = TestBoard.NewEpoch();
        using (var board = new TestBoard(collector))
        {
            await board.GreetAsync(epoch, 1, 20);
            await board.NextAsync();
            await board.SendAsync([.. Enumerable.Range(1, 20).Select(i => TestBoard.Record(epoch, (ulong)i, [(byte)i]))]);
            await board.ReceiptAsync(20);
        }

        await collector.StatusAsync();
        await collector.StopAsync();
        return collector;
    }

    private static async Task RefusedAsync(string folder, params string[] words)
    {
        Dictionary<string, string> before = Content(folder);
        foreach (string[] command in CommandLines)
        {
            (int exitCode, string output, string errors) = await RunAsync(folder, command);
            Assert.True(exitCode == 1, $"{command[0]}: exit {exitCode}\n{output}\n{errors}");
            Assert.All(words, word => Assert.Contains(word, errors, StringComparison.Ordinal));
            Assert.DoesNotContain("   at ", errors, StringComparison.Ordinal);
            Assert.Equal(before, Content(folder));
        }
    }

    /// <summary>Hash of every file of intake log, store and authority. Locks and sockets come and go.</summary>
    private static Dictionary<string, string> Content(string folder) => Directory.EnumerateFiles(folder, "*", SearchOption.AllDirectories)
        .Where(f => !f.EndsWith(".sock", StringComparison.Ordinal) && !f.EndsWith("-log.db", StringComparison.Ordinal) && new FileInfo(f).Length > 0)
        .ToDictionary(f => f, f => Convert.ToHexString(SHA256.HashData(File.ReadAllBytes(f))));

    private static async Task<(int ExitCode, string Output, string Errors)> RunAsync(string folder, params string[] arguments)
    {
        var start = new ProcessStartInfo("dotnet") { RedirectStandardOutput = true, RedirectStandardError = true };
        foreach (string argument in (string[])[Path.Combine(AppContext.BaseDirectory, "cardassay-collector.dll"), .. arguments, "--data", folder])
        {
            start.ArgumentList.Add(argument);
        }

        using Process process = Process.Start(start)!;
        Task<string> output = process.StandardOutput.ReadToEndAsync(), errors = process.StandardError.ReadToEndAsync();
        using var patience = new CancellationTokenSource(TimeSpan.FromMinutes(3));
        try
        {
            await process.WaitForExitAsync(patience.Token);
        }
        catch (OperationCanceledException)
        {
            process.Kill(); // it started: the test fails on the exit code
            await process.WaitForExitAsync();
        }

        return (process.ExitCode, await output, await errors);
    }

    private static void SetLayout(string path, int version)
    {
        using var database = new LiteDatabase(new ConnectionString { Filename = path, Connection = ConnectionType.Direct, Collation = new Collation("/Ordinal") });
        Assert.True(database.GetCollection("meta", BsonAutoId.Int64).Update(new BsonDocument { ["_id"] = "layout", ["version"] = version }));
    }

    /// <summary>The segment with another format number and a header that is sound: the checksum of the first 72 bytes is CRC-32C (RFC 3720, here the processor's).</summary>
    private static byte[] OfFormat(byte[] segment, uint format)
    {
        byte[] changed = [.. segment];
        BinaryPrimitives.WriteUInt32LittleEndian(changed.AsSpan(8), format);
        uint crc = uint.MaxValue;
        foreach (byte b in changed.AsSpan(0, 72))
        {
            crc = BitOperations.Crc32C(crc, b);
        }

        BinaryPrimitives.WriteUInt32LittleEndian(changed.AsSpan(72), ~crc);
        return changed;
    }
}

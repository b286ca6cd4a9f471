using Cardassay.Collector.Commands;
using Cardassay.Collector.Storage;

namespace Cardassay.Collector.Tests.Storage;

public sealed class StoreChoiceTests
{
    private const string Good = "postgres=Host=db;Database=cards;Username=bench";

    [Fact]
    public void Parse_Postgres_NamesDatabaseHostAndPort()
    {
        Assert.Equal("the PostgreSQL database cards on db, port 5432", StoreChoice.Parse(Good).Name);
        Assert.Equal("the PostgreSQL database cards on /run/postgresql, port 5433", StoreChoice.Parse(
            "postgres=Host=/run/postgresql;Port=5433;Database=cards;Username=bench;SSL Mode=Disable").Name);
    }

    [Theory]
    [InlineData("sqlite", "litedb, or postgres=")]
    [InlineData("postgres=", "Host is missing")]
    [InlineData("postgres=Host=db;Username=bench", "Database is missing")]
    [InlineData("postgres=Host=db;Database=cards", "Username is missing")]
    [InlineData("postgres=Host=db;Port=many;Database=cards;Username=bench", "value of Port")]
    [InlineData("postgres=Host=db;Database=cards;Username=bench;Pooling=false", "a setting after \"postgres=\" is unknown")]
    [InlineData("postgres=hello", "NAME=VALUE")]
    public void Parse_Unusable_SaysWhatToWrite(string text, string expected) =>
        Assert.Contains(expected, Assert.Throws<FormatException>(() => StoreChoice.Parse(text)).Message, StringComparison.Ordinal);

    [Theory]
    [InlineData(Good + ";Password=orange-harbour-7")]
    [InlineData(Good + ";pwd=orange-harbour-7")]
    [InlineData(Good + ";PSW=orange-harbour-7")]
    [InlineData(Good + ";SSL Password=orange-harbour-7")]
    [InlineData(Good + ";orange-harbour-7=x")]
    [InlineData(Good + ";Password=\"orange-harbour-7")]
    [InlineData(Good + ";Port=orange-harbour-7")]
    [InlineData("postgres=orange-harbour-7")]
    [InlineData("postgres://bench:orange-harbour-7@db/cards")]
    public async Task Store_WithAPassword_IsRefusedAndNeverRepeated(string text)
    {
        Assert.DoesNotContain("orange-harbour-7", Assert.Throws<FormatException>(() => StoreChoice.Parse(text)).ToString(), StringComparison.Ordinal);
        TextWriter errors = Console.Error;
        using var said = new StringWriter();
        Console.SetError(said);
        try
        {
            Assert.Equal(2, await CommandLine.RunAsync(["rebuild", "--store", text, "--data", Path.Combine(Path.GetTempPath(), "cardassay-none")]));
        }
        finally
        {
            Console.SetError(errors);
        }

        Assert.DoesNotContain("orange-harbour-7", said.ToString(), StringComparison.Ordinal);
        Assert.Contains("--store", said.ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Parse_AnyText_GivesAChoiceOrASentence()
    {
        const int seed = 20260301;
        var random = new Random(seed);
        string[] parts = ["postgres=", "litedb", "Host", "=", ";", "Port", "Database", "\"", "'", " ", "5432", "\0", "é", "SSL Mode", "Username", "cards"];
        for (int i = 0; i < 20_000; i++)
        {
            string text = (i % 2 == 0 ? "postgres=" : "") + string.Concat(Enumerable.Range(0, random.Next(12)).Select(_ => parts[random.Next(parts.Length)]));
            Exception? e = Record.Exception(() => StoreChoice.Parse(text));
            Assert.True(e is null or FormatException, $"seed {seed}, \"{text}\": {e}");
        }
    }

    [Fact]
    public void Memory_IsReadBackAndOldFoldersAreTheFile()
    {
        string folder = Directory.CreateTempSubdirectory("cardassay-choice-").FullName;
        try
        {
            string database = Path.Combine(folder, "cardassay.db");
            Assert.Null(StoreMemory.Read(folder, database));
            File.WriteAllText(database, "");
            Assert.Same(StoreChoice.LiteDb, StoreMemory.Read(folder, database));
            StoreMemory.Write(folder, StoreChoice.Parse(Good));
            Assert.Equal(Good, StoreMemory.Read(folder, database)!.Text);
            File.WriteAllText(Path.Combine(folder, "choice"), "elsewhere");
            Assert.Contains(folder, Assert.Throws<FormatException>(() => StoreMemory.Read(folder, database)).Message, StringComparison.Ordinal);
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }
}

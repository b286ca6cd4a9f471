using System.Text;
using System.Text.Json;
using Cardassay.Json;

namespace Cardassay.SharedCore.Tests.Json;

public sealed class JsonTextTests
{
    private const string Sample = "{\n  // a note\n  \"steps\": [ { \"kind\": \"ö\", \"bytes\": 2e7, }, true, ],\n}";

    [Fact]
    public void Read_CommentsAndTrailingCommas_GivesValuesWithTheirKeys()
    {
        JsonValue root = Read(Sample);
        JsonValue step = root.Find("steps")!.Items[0];
        Assert.Equal(["steps[0].kind", "steps[0].bytes"], step.Members.Select(m => m.Value.Key));
        Assert.Equal(("ö", null), (step.Find("kind")!.String, step.Find("kind")!.Number));
        Assert.Equal((null, 2e7), (step.Find("bytes")!.String, step.Find("bytes")!.Number));
        Assert.Equal(("2e7", JsonTokenType.Number), (step.Find("bytes")!.Text, step.Find("bytes")!.Kind));
        Assert.Equal(JsonTokenType.True, root.Find("steps")!.Items[1].Kind);
        Assert.Null(root.Find("Steps"));
    }

    [Fact]
    public void PlaceOf_AValueBehindAnUmlaut_CountsCharacters()
    {
        JsonMember bytes = Read(Sample).Find("steps")!.Items[0].Members[1];
        Assert.Equal((3, 29), JsonText.PlaceOf(Encoding.UTF8.GetBytes(Sample), bytes.NameOffsetBytes));
        Assert.Equal((3, 38), JsonText.PlaceOf(Encoding.UTF8.GetBytes(Sample), bytes.Value.OffsetBytes));
    }

    [Theory]
    [InlineData("", JsonTextProblem.NotJson, "", 0)]
    [InlineData("// nothing", JsonTextProblem.NotJson, "", 10)]
    [InlineData("{} {}", JsonTextProblem.NotJson, "", 3)]
    [InlineData("{\n\"a\": [1, tru]}", JsonTextProblem.NotJson, "a", 14)]
    [InlineData("{\"a\": \"\\ud800\"}", JsonTextProblem.NoCharacter, "a", 6)]
    [InlineData("{\"a\": 1, \"a\": 2}", JsonTextProblem.KeyTwice, "a", 9)]
    [InlineData("{\"a\": {\"b\": 1, \"b\": 2}}", JsonTextProblem.KeyTwice, "a.b", 15)]
    [InlineData("[[[[1]]]]", JsonTextProblem.NotJson, "[0][0]", 3)]
    public void Read_TextThatIsWrong_NamesKeyAndPlace(string text, JsonTextProblem problem, string key, int offsetBytes)
    {
        JsonTextException error = Assert.Throws<JsonTextException>(() => JsonText.Read(Encoding.UTF8.GetBytes(text), 3, isKeyOnce: true));
        Assert.Equal((problem, key, offsetBytes), (error.Problem, error.Key, error.OffsetBytes));
    }

    [Fact]
    public void Read_KeyTwice_IsTheCallersToJudge()
    {
        JsonValue root = Read("{\"a\": 1, \"a\": 2}");
        Assert.Equal(["1", "2"], root.Members.Select(m => m.Value.Text));
        Assert.Equal("1", root.Find("a")!.Text);
    }

    private static JsonValue Read(string text) => JsonText.Read(Encoding.UTF8.GetBytes(text));
}
